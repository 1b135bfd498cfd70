/** Completion scripts for shells, written from the program's own commands, options and choices. */
import type { Command } from 'commander';

/** Shells that are known. */
export const SHELLS = ['bash', 'zsh', 'fish'] as const;
/** A shell that is known. */
export type Shell = (typeof SHELLS)[number];

interface Word {
  readonly text: string;
  readonly about: string;
}

interface Offer {
  readonly command: Word;
  readonly options: readonly (Word & { readonly choices: readonly string[]; readonly takesValue: boolean })[];
  /** Words for the first argument; empty where it is a file. */
  readonly choices: readonly string[];
}

/** The script that a shell reads to complete the commands of a program. Pure. */
export function completionScript(program: Command, shell: Shell): string {
  const offers = program.commands.map((command) => offerOf(command, program));
  if (shell === 'bash') return bash(program.name(), offers);
  return shell === 'zsh' ? zsh(program.name(), offers) : fish(program.name(), offers);
}

function offerOf(command: Command, program: Command): Offer {
  const options = command.options.flatMap((option) => {
    const about = oneLine(option.description);
    const takesValue = option.required || option.optional;
    const choices = option.argChoices ?? [];
    return [option.short, option.long].flatMap((text) =>
      text ? [{ text, about, choices, takesValue }] : [],
    );
  });
  const help = { text: '--help', about: 'display help for command', choices: [], takesValue: false };
  // `help` takes the names of commands, which its own argument does not list.
  const names =
    command.name() === 'help' ? program.commands.map((c) => c.name()).filter((n) => n !== 'help') : [];
  return {
    command: { text: command.name(), about: oneLine(command.description()) },
    options: [...options, help],
    choices: [...(command.registeredArguments[0]?.argChoices ?? []), ...names],
  };
}

/** What is between quotes in a script: no quote, no line end, nothing that a shell reads. */
function oneLine(text: string): string {
  return text
    .replace(/\s+/g, ' ')
    .replace(/['"`\\$:[\]]/g, '')
    .trim();
}

function bash(name: string, offers: readonly Offer[]): string {
  const words = (list: readonly { readonly text: string }[]) => list.map((w) => w.text).join(' ');
  const cases = offers.map(({ command, options, choices }) => {
    const values = options.flatMap((o) =>
      o.choices.length > 0
        ? [`        ${o.text}) COMPREPLY=($(compgen -W '${o.choices.join(' ')}' -- "$word")); return ;;`]
        : o.takesValue
          ? [`        ${o.text}) COMPREPLY=($(compgen -f -- "$word")); return ;;`]
          : [],
    );
    const first = choices.length > 0 ? `compgen -W '${choices.join(' ')}'` : 'compgen -f';
    return `    ${command.text})
      case "$before" in
${values.join('\n')}
      esac
      if [[ $word == -* ]]; then COMPREPLY=($(compgen -W '${words(options)}' -- "$word"))
      else COMPREPLY=($(${first} -- "$word")); fi ;;`;
  });
  return `# lagreel completion bash; for this session: source <(${name} completion bash)
_${name}() {
  local word=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD-1]} IFS=$' \\n'
  COMPREPLY=()
  if ((COMP_CWORD == 1)); then
    COMPREPLY=($(compgen -W '${offers.map((o) => o.command.text).join(' ')} --help --version' -- "$word"))
    return
  fi
  case "\${COMP_WORDS[1]}" in
${cases.join('\n')}
  esac
}
complete -o filenames -F _${name} ${name}
`;
}

function zsh(name: string, offers: readonly Offer[]): string {
  const cases = offers.map(({ command, options, choices }) => {
    const specs = options.map((o) => {
      const value =
        o.choices.length > 0 ? `:value:(${o.choices.join(' ')})` : o.takesValue ? ':value:_files' : '';
      return `        '*${o.text}[${o.about}]${value}'`;
    });
    const rest = choices.length > 0 ? `        '*:what:(${choices.join(' ')})'` : "        '*:file:_files'";
    return `    ${command.text})\n      _arguments \\\n${[...specs, rest].join(' \\\n')}\n      ;;`;
  });
  return `#compdef ${name}
# lagreel completion zsh; for this session: source <(${name} completion zsh)
_${name}() {
  local -a commands
  commands=(
${offers.map(({ command }) => `    '${command.text}:${command.about}'`).join('\n')}
  )
  if ((CURRENT == 2)); then
    _describe command commands
    return
  fi
  local command=$words[2]
  shift words
  ((CURRENT--))
  case $command in
${cases.join('\n')}
  esac
}
compdef _${name} ${name}
`;
}

function fish(name: string, offers: readonly Offer[]): string {
  const lines = offers.flatMap(({ command, options, choices }) => {
    const under = `complete -c ${name} -n '__fish_seen_subcommand_from ${command.text}'`;
    return [
      `complete -c ${name} -n __fish_use_subcommand -f -a ${command.text} -d '${command.about}'`,
      ...(choices.length > 0 ? [`${under} -f -a '${choices.join(' ')}'`] : []),
      ...options.map((o) => {
        const flag = o.text.startsWith('--') ? `-l ${o.text.slice(2)}` : `-s ${o.text.slice(1)}`;
        const value = o.choices.length > 0 ? ` -x -a '${o.choices.join(' ')}'` : o.takesValue ? ' -r' : '';
        return `${under} ${flag}${value} -d '${o.about}'`;
      }),
    ];
  });
  return `# lagreel completion fish; for this session: ${name} completion fish | source\n${lines.join('\n')}\n`;
}
