/** Completion and help topics. The bash script is run by a real bash; zsh and fish where they are installed. */
import { spawnSync } from 'node:child_process';
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
  const { stdout, stderr, status } = spawnSync('bash', ['-eu', '-c', script], { encoding: 'utf8', cwd: '/' });
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
    const parsed = spawnSync(shell, ['-n'], { input: out, encoding: 'utf8' });
    // Not installed everywhere; where it is, it has to read the script.
    if (parsed.error === undefined)
      expect({ err: parsed.stderr, code: parsed.status }).toEqual({ err: '', code: 0 });
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
