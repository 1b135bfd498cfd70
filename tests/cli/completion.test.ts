/** Completion and help topics. The bash script is run by a real bash; zsh and fish where they are installed. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import { setForTerminal, TOPICS } from '../../src/cli/topics.js';

async function lagreel(...argv: string[]) {
  const said = { out: '', err: '' };
  const out = (text: string) => {
    said.out += text;
  };
  const err = (text: string) => {
    said.err += text;
  };
  const code = await run(argv, { out, err, colour: false, width: 80, live: false });
  return { code, ...said };
}

/** What bash offers at the end of a line. */
async function offered(line: string): Promise<string[]> {
  const { out } = await lagreel('completion', 'bash');
  const script = `${out}
COMP_WORDS=(${line.endsWith(' ') ? `${line}''` : line}); COMP_CWORD=$((\${#COMP_WORDS[@]} - 1)); _lagreel; printf '%s\\n' "\${COMPREPLY[@]}"`;
  const { stdout, stderr, status } = spawnSync('bash', ['--norc', '-eu', '-c', script], {
    encoding: 'utf8',
    cwd: '/',
  });
  expect({ stderr, status }).toEqual({ stderr: '', status: 0 });
  return stdout.split('\n').filter((word) => word !== '');
}

describe('completion', () => {
  it('offers commands, options, choices of options, words of arguments and files', async () => {
    expect(await offered('lagreel me')).toEqual(['measure']);
    expect(await offered('lagreel ')).toEqual(
      expect.arrayContaining(['inspect', 'simulate', 'help', '--version']),
    );
    expect(await offered('lagreel measure --up')).toEqual(['--update-recipe']);
    expect(await offered('lagreel measure --edge ')).toEqual(['press', 'release']);
    expect(await offered('lagreel simulate s')).toEqual(['sprite']);
    expect(await offered('lagreel completion ')).toEqual(['bash', 'zsh', 'fish']);
    expect(await offered('lagreel help an')).toEqual(['annotate']);
    expect(await offered('lagreel measure et')).toEqual(['etc']);
  });

  it.each(['zsh', 'fish'])('%s: names every command and option of the help', async (shell) => {
    const { out } = await lagreel('completion', shell);
    const { out: help } = await lagreel('measure', '--help');
    for (const [, long] of help.matchAll(/^ {2,6}(?:-\w, )?--([a-z-]+)/gm)) {
      expect(out).toContain(shell === 'fish' ? `-l ${long}` : `'*--${long}[`);
    }
    // From a file, as it is installed.
    const folder = mkdtempSync(join(tmpdir(), 'lagreel-completion-'));
    writeFileSync(join(folder, 'script'), out);
    const parsed = spawnSync(shell, ['-n', join(folder, 'script')], { encoding: 'utf8' });
    rmSync(folder, { recursive: true, force: true });
    // Not installed everywhere; where it is, it has to read the script.
    if (parsed.error === undefined)
      expect({ err: parsed.stderr, code: parsed.status }).toEqual({ err: '', code: 0 });
  });

  const fish = spawnSync('fish', ['--version']).status === 0;
  if (!fish) console.log('completion of fish: not run: no fish');
  it.skipIf(!fish)('fish offers commands, choices of options and words of arguments', async () => {
    const { out } = await lagreel('completion', 'fish');
    const folder = mkdtempSync(join(tmpdir(), 'lagreel-completion-'));
    writeFileSync(join(folder, 'script'), out);
    const offers = (line: string) => {
      const asked = `source ${folder}/script; complete -C '${line}'`;
      const { stdout } = spawnSync('fish', ['--no-config', '-c', asked], { encoding: 'utf8' });
      const words = stdout.split('\n').map((said) => said.split('\t')[0]);
      return words.filter((word) => word !== '');
    };
    expect(offers('lagreel me')).toEqual(['measure']);
    expect(offers('lagreel measure --up')).toEqual(['--update-recipe']);
    expect(offers('lagreel measure --edge ')).toEqual(['press', 'release']);
    expect(offers('lagreel completion ').sort()).toEqual(['bash', 'fish', 'zsh']);
    rmSync(folder, { recursive: true, force: true });
  });

  const zsh = spawnSync('zsh', ['-f', '-c', 'zmodload zsh/zpty']).status === 0;
  if (!zsh) console.log('completion of zsh: not run: no zsh');
  it.skipIf(!zsh)('zsh completes commands, options and choices at a real prompt', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lagreel-completion-'));
    try {
      const { out } = await lagreel('completion', 'zsh');
      writeFileSync(join(folder, 'script'), out);
      // A key that shows the line as it stands, and a shell behind a terminal of its own.
      writeFileSync(
        join(folder, 'setup'),
        `autoload -Uz compinit; compinit -u -D; source ${folder}/script
show() { zle .kill-whole-line; print -r -- "GOT<$CUTBUFFER>"; }
zle -N show; bindkey '^X' show; print READY\n`,
      );
      const typed = ['lagreel me', 'lagreel measure --up', 'lagreel measure --edge re'];
      const driver = [
        'zmodload zsh/zpty; zpty z zsh -f -i',
        `zpty -w z "source ${folder}/setup"; zpty -r -m z said '*READY*'`,
        ...typed.map(
          (line) =>
            `zpty -w -n z $'${line}\\t'; sleep 0.5; zpty -w -n z $'\\C-x'; zpty -r -m z said '*GOT<*>*'; print -r -- "$said"`,
        ),
        'zpty -d z',
      ];
      const { stdout } = spawnSync('zsh', ['-f', '-c', driver.join('\n')], {
        encoding: 'utf8',
        timeout: 50_000,
        env: { ...process.env, TERM: 'dumb' },
      });
      const got = [...stdout.matchAll(/GOT<(.*?) *>/g)].map(([, line]) => line);
      expect(got).toEqual([
        'lagreel measure',
        'lagreel measure --update-recipe',
        'lagreel measure --edge release',
      ]);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });

  it('of an unknown shell is wrong usage', async () => {
    expect(await lagreel('completion', 'dosshell')).toMatchObject({ code: 2, out: '' });
  });
});

describe('help TOPIC', () => {
  it.each(Object.keys(TOPICS))(
    '%s: words, no marks, no line that need be longer than the terminal',
    async (topic) => {
      const { code, out, err } = await lagreel('help', topic);
      expect({ code, err }).toEqual({ code: 0, err: '' });
      expect(out.length).toBeGreaterThan(200);
      expect(out).not.toMatch(/\*\*|`|<!--|^\|/m);
      for (const line of out.split('\n'))
        if (line.trim().includes(' ')) expect(line.length, line).toBeLessThanOrEqual(110);
    },
  );
  it('shows the help of a command, the topics, and refuses what is neither', async () => {
    expect((await lagreel('help', 'measure')).out).toBe((await lagreel('measure', '--help')).out);
    expect((await lagreel('help')).out).toBe((await lagreel('--help')).out);
    expect((await lagreel('help', '--help')).out).toContain('exit-codes');
    const { code, err } = await lagreel('help', 'nothing');
    expect(code).toBe(2);
    expect(err).toMatch(/^lagreel: there is no command or topic "nothing": topics are filming, .*\n$/);
  });
  it('sets a table, a list and a quotation', () => {
    const text = setForTerminal(
      '## A b\n\n1. **One** two\n\n> x `y`\n\n| h | i |\n| - | - |\n| `a` | b\\|c |\n',
      40,
    );
    expect(text).toBe('A B\n\n1. One two\n\nx y\n\n  a\n      b|c\n');
  });
});
