/** Holds README.md and DEVELOPERS.md to the program: commands, options, examples, codes, map, scripts, paths. */
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Command } from 'commander';
import ts from 'typescript';
import { describe, expect, it } from 'vitest';
import { annotateCommand } from '../src/cli/annotateCommand.js';
import { boardCommand } from '../src/cli/boardCommand.js';
import { cacheCommand } from '../src/cli/cacheCommand.js';
import { calibrateCommand } from '../src/cli/calibrateCommand.js';
import { cardCommand } from '../src/cli/cardCommand.js';
import { compareCommand } from '../src/cli/compareCommand.js';
import { completionCommand } from '../src/cli/completionCommand.js';
import { deskCommand } from '../src/cli/deskCommand.js';
import { helpCommand } from '../src/cli/helpCommand.js';
import { inspectCommand } from '../src/cli/inspectCommand.js';
import { run } from '../src/cli/main.js';
import { measureCommand } from '../src/cli/measureCommand.js';
import { planCommand } from '../src/cli/planCommand.js';
import { recheckCommand } from '../src/cli/recheckCommand.js';
import { simulateCommand } from '../src/cli/simulateCommand.js';
import { ALLOWANCES } from '../src/compare/comparability.js';
import { type AnalysisCode, AnalysisError, UsageError } from '../src/errors.js';
import { pressColumns } from '../src/report/pressesCsv.js';
import { HOUSE } from './houseTable.js';
import { codeBlocks, inlineCode, section, shellCommands, table } from './markdown.js';

const root = fileURLToPath(new URL('..', import.meta.url));
const read = (path: string) => readFileSync(join(root, path), 'utf8');
const readme = read('README.md');
const developers = read('DEVELOPERS.md');
const scripts: Record<string, string> = JSON.parse(read('package.json')).scripts;

/** A terminal that keeps what is written to it. */
function quietTerminal() {
  const said: string[] = [];
  const keep = (text: string) => said.push(text);
  return { said, out: keep, err: keep, colour: false, width: 100, live: false };
}

/** The commands as the program builds them, with their work taken out. */
function commands(): Command[] {
  const { signal } = new AbortController();
  const terminal = quietTerminal();
  const finish = () => undefined;
  return [
    inspectCommand(terminal, signal, finish),
    measureCommand(terminal, signal, finish),
    compareCommand(terminal, signal, finish),
    planCommand(terminal, signal, finish),
    calibrateCommand(terminal, signal, finish),
    boardCommand(terminal, signal, finish),
    cardCommand(terminal, signal, finish),
    annotateCommand(terminal, signal, finish),
    deskCommand(terminal, signal, finish),
    cacheCommand(terminal, signal, finish),
    recheckCommand(terminal, signal, finish),
    simulateCommand(terminal, signal, finish),
  ].map((command) => {
    return command.action(() => undefined);
  });
}

/** Parses the arguments of one command line as the program would, without the work. */
async function parse(args: readonly string[]): Promise<void> {
  const program = new Command('lagreel');
  for (const command of commands()) program.addCommand(command);
  program.helpCommand(false);
  for (const make of [completionCommand, helpCommand]) {
    program.addCommand(make(quietTerminal()).action(() => undefined));
  }
  for (const command of [program, ...program.commands]) {
    command.exitOverride().configureOutput({ writeOut: () => undefined, writeErr: () => undefined });
  }
  await program.parseAsync([...args], { from: 'user' });
}

const longOptions = (command: Command) => command.options.map((option) => option.long!).sort();
const optionsIn = (text: string) => [...text.matchAll(/(?<![\w-])--[a-z][\w-]*/g)].map((match) => match[0]);

describe('README: commands and options', () => {
  it('the program has the commands that are parsed here, and no other', async () => {
    const terminal = quietTerminal();
    await run(['--help'], terminal);
    const shown = [...terminal.said.join('').matchAll(/^ {2}(\w+) \[(?:options|command)\]/gm)].map(
      (m) => m[1]!,
    );
    expect(shown.filter((name) => name !== 'help').sort()).toEqual(
      commands()
        .map((command) => command.name())
        .sort(),
    );
  });

  it.each(commands().map((command) => [command.name(), command] as const))(
    'the section on %s lists its options, all and no other',
    (name, command) => {
      const listed = table(section(readme, `\`lagreel ${name}`)).flatMap((row) => optionsIn(row[0]!));
      // The section on `measure` says that it takes the options of `inspect`, too.
      const inherited = name === 'measure' ? longOptions(commands()[0]!) : [];
      expect([...new Set([...listed, ...inherited])].sort()).toEqual(longOptions(command));
    },
  );

  it('names no option that no command has', () => {
    const known = new Set(['--help', '--check', ...commands().flatMap(longOptions)]);
    expect(optionsIn(readme).filter((option) => !known.has(option))).toEqual([]);
  });

  it('names no command that is neither there nor said to be missing', () => {
    const there = commands().map((command) => command.name());
    const planned = section(readme, 'Limits').match(/only planned: ([^.]*)\./)?.[1] ?? '';
    const missing = inlineCode(planned);
    expect(missing.filter((name) => there.includes(name))).toEqual([]);
    const named = [...readme.matchAll(/lagreel ([a-z]+)(?= [A-Za-z<[-]|`)/g)].map((m) => m[1]!);
    const asCommand = named.filter((name) => [...there, ...missing].includes(name));
    expect(new Set(asCommand)).toEqual(new Set(there));
  });

  const examples = codeBlocks(readme, 'sh')
    .flatMap(shellCommands)
    .filter(([program]) => program === 'lagreel');
  it('has examples', () => expect(examples.length).toBeGreaterThanOrEqual(7));
  it.each(examples.map((words) => [words.join(' '), words] as const))(
    'example parses: %s',
    async (_, words) => {
      await expect(parse(words.slice(1))).resolves.toBeUndefined();
    },
  );
  it.each([
    'measure clip.mp4 --refresh fast',
    'measure clip.mp4 --regoin led=led:1,2,3,4',
    'measure clip.mp4 --region led=lamp:1,2,3,4',
    'simulate flash',
    'simulate explosion -o a.mp4',
    'mesure clip.mp4',
    'inspect a.mp4 b.mp4',
  ])('an example with a fault would not parse: %s', async (line) => {
    await expect(parse(line.split(' '))).rejects.toThrow();
  });
  it('the examples in the help parse, too', async () => {
    for (const name of ['', ...commands().map((command) => command.name())]) {
      const terminal = quietTerminal();
      await run(name === '' ? ['--help'] : [name, '--help'], terminal);
      const lines = shellCommands(terminal.said.join('').split('Examples:')[1]!.split('\n\n')[0]!);
      expect(lines.length, name).toBeGreaterThanOrEqual(2);
      for (const words of lines)
        await expect(parse(words.slice(1)), words.join(' ')).resolves.toBeUndefined();
    }
  });
  it('defaults in the text are the defaults of a recipe', () => {
    const row = (option: string) =>
      table(section(readme, '`lagreel measure')).find((r) => r[0]!.includes(option))![1]!;
    const schema = read('src/record/parseRecipe.ts');
    expect(schema).toContain('level: 0.1, windowMs: [0, 500]');
    expect(row('--level')).toContain('(0.1)');
    expect(row('--window')).toContain('(0:500)');
  });
});

describe('README: what else can be checked', () => {
  it('the job stands in one paragraph at the top, the two commands under it', () => {
    const [title, job, block] = readme.split('\n\n');
    expect(title).toBe('# lagreel');
    expect(job!.startsWith('lagreel ') && !job!.includes('\n')).toBe(true);
    expect(
      shellCommands(codeBlocks(block!, 'sh')[0] ?? block!.replace(/```(sh)?/g, '')).map((w) => w.join(' ')),
    ).toEqual(['npm ci', 'npm run demo', 'npm ci', 'npm test']);
  });
  it('exit codes are those of the errors', () => {
    const rows = new Map(table(section(readme, 'Exit codes')).map(([code, words]) => [Number(code), words!]));
    expect([...rows.keys()]).toEqual([0, 1, 2, 3, 4, 5, 130]);
    expect(new UsageError('').exitCode).toBe(2);
    expect(rows.get(2)).toContain('cannot be written');
    expect(new AnalysisError('write-failed', '').exitCode).toBe(2);
    expect(rows.get(4)).toContain('capture rate unknown');
    expect(new AnalysisError('rate-unknown', '').exitCode).toBe(4);
    expect(rows.get(3)).toContain('no FFmpeg');
    expect(new AnalysisError('decoder-missing', '').exitCode).toBe(3);
  });
  it('every run-time dependency is named with its licence', () => {
    const { dependencies, optionalDependencies } = JSON.parse(read('package.json'));
    const licences = section(readme, 'Licence');
    for (const name of Object.keys({ ...dependencies, ...optionalDependencies })) {
      expect(licences, name).toContain(name);
    }
  });
  it('the files that measure writes are the files that are listed', () => {
    const listed = table(section(readme, 'Files')).flatMap((row) => inlineCode(row[0]!));
    const written = [...read('src/record/files.ts').matchAll(/at\('(\.[\w.]+)'\)/g)].map(
      (m) => `NAME${m[1]}`,
    );
    expect(listed.sort()).toEqual(written.sort());
  });
  it('columns of the table of presses are those that are written', () => {
    const rows = table(readme, '<!-- columns').map(([name, unit, meaning]) => [
      inlineCode(name!)[0]!,
      unit,
      meaning,
    ]);
    const labels = ['label_NAME', '', 'a column for each label of clip or region'];
    expect(rows).toEqual([...pressColumns.map((c) => [c.name, c.unit, c.meaning]), labels]);
  });
  it('what can be allowed is listed', () => {
    const row = table(section(readme, '`lagreel compare')).find((r) => r[0]!.includes('--allow'))!;
    expect(inlineCode(row[1]!)).toEqual([...ALLOWANCES]);
  });
  it('environment variables are those that are looked at', () => {
    const named = inlineCode(section(readme, 'FFmpeg')).filter(
      (word) => /^[A-Z_]+$/.test(word) && word !== 'PATH',
    );
    expect(named).toEqual(['LAGREEL_FFMPEG', 'FFMPEG_PATH']);
    const source = read('src/clip/findFfmpeg.ts');
    for (const name of named) expect(source).toContain(`env.${name}`);
  });
});

/** String literals of the union type of this name. */
function unionOf(path: string, name: string): string[] {
  const file = ts.createSourceFile(path, read(path), ts.ScriptTarget.ES2022, true);
  const alias = file.statements.find((s) => ts.isTypeAliasDeclaration(s) && s.name.text === name);
  if (!alias || !ts.isTypeAliasDeclaration(alias) || !ts.isUnionTypeNode(alias.type)) throw new Error(name);
  return alias.type.types.map((t) => t.getText().replace(/'/g, ''));
}

/** Severities by code, from the calls `add(when, severity, code, text)` of the fitness file. */
function fitnessCodes(): Map<string, Set<string>> {
  const path = 'src/latency/assessFitness.ts';
  const file = ts.createSourceFile(path, read(path), ts.ScriptTarget.ES2022, true);
  const codes = new Map<string, Set<string>>();
  const visit = (node: ts.Node): void => {
    if (ts.isCallExpression(node) && node.expression.getText() === 'add') {
      const [, severity, code] = node.arguments;
      if (!code || !ts.isStringLiteral(code)) throw new Error(`${path}: a code that is no literal`);
      const known = codes.get(code.text) ?? new Set();
      // A choice of two (`x ? 'care' : 'note'`) is both.
      const chosen = ts.isConditionalExpression(severity!)
        ? [severity.whenTrue, severity.whenFalse]
        : [severity!];
      for (const choice of chosen) known.add(choice.getText().replace(/'/g, ''));
      codes.set(code.text, known);
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return codes;
}

describe('DEVELOPERS: lists are complete', () => {
  it('the house table is the one that the architecture test enforces', () => {
    const rows = table(developers, '<!-- house table');
    const written = Object.fromEntries(
      rows.map(([room, , may]) => [
        inlineCode(room!)[0]!,
        [...may!.matchAll(/(types of )?`([^`]+)`/g)].map((m) => `${m[1] ?? ''}${m[2]}`),
      ]),
    );
    expect(written).toEqual(HOUSE);
  });
  it('error codes and their exit codes', () => {
    const rows = table(developers, '<!-- error codes').map(([code, exit]) => [
      inlineCode(code!)[0]!,
      Number(exit),
    ]);
    const codes = unionOf('src/errors.ts', 'AnalysisCode') as AnalysisCode[];
    expect(rows).toEqual(codes.map((code) => [code, new AnalysisError(code, '').exitCode]));
  });
  it('fitness reasons and their severities', () => {
    const codes = fitnessCodes();
    expect(codes.size).toBeGreaterThan(10);
    const inspectOnly = read('src/inspect.ts').match(/expectedCodes = \[([^\]]*)\]/)![1]!;
    for (const [, code] of inspectOnly.matchAll(/'([^']+)'/g)) codes.set(code!, new Set(['unfit']));
    const rows = table(developers, '<!-- fitness codes');
    const written = new Map(
      rows.map(([code, severity]) => [inlineCode(code!)[0]!, new Set(severity!.split(', '))]),
    );
    expect(written).toEqual(codes);
    expect(rows.length).toBe(written.size);
  });
  it('scripts of package.json', () => {
    const written = table(developers, '<!-- scripts').map((row) =>
      inlineCode(row[0]!)[0]!.replace(/^npm (run )?/, ''),
    );
    expect(written).toEqual(expect.arrayContaining(Object.keys(scripts)));
    expect(Object.keys(scripts)).toEqual(expect.arrayContaining(written));
  });
});

describe.each(['README.md', 'DEVELOPERS.md', 'sample-clips/README.md'])('%s', (path) => {
  const text = read(path);
  it('names only scripts that are there', () => {
    const code = [...inlineCode(text), ...codeBlocks(text, 'sh')].join('\n');
    const named = [...code.matchAll(/npm (?:run )?(?!ci\b|link\b|run\b)([a-z][\w:]*)/g)].map((m) => m[1]!);
    expect(named.filter((name) => !(name in scripts))).toEqual([]);
  });
  it('links and paths lead somewhere', () => {
    const links = [...text.matchAll(/\]\((?!https?:)([^)#]+)/g)].map((m) => join(dirname(path), m[1]!));
    const paths = inlineCode(text).filter((word) =>
      /^(src|tests|sample-clips|bin|\.ci)\/[\w./-]*$/.test(word),
    );
    // Places in the house table and in the prose of DEVELOPERS.md, below src/.
    const below = inlineCode(text)
      .filter((word) => /^[a-z]+\/[\w/]+\.ts$/.test(word) && !/^(src|tests)\//.test(word))
      .map((word) => `src/${word}`);
    const missing = [...links, ...paths, ...below].filter((target) => !existsSync(join(root, target)));
    expect(missing).toEqual([]);
  });
});

describe('sample-clips/README.md', () => {
  const text = read('sample-clips/README.md');
  const names = table(text).map((row) => inlineCode(row[0]!)[0]!.replace('.mp4', ''));
  it('names four clips with the truth that stands beside them', () => {
    expect(names).toHaveLength(4);
    for (const [clip, , count, delay, jitter, stored] of table(text)) {
      const name = inlineCode(clip!)[0]!.replace('.mp4', '');
      const { scene, presses } = JSON.parse(read(`sample-clips/${name}.truth.json`));
      expect(delay, name).toBe(`${scene.latency.fixedDelayMs} ms`);
      expect(jitter === 'none', name).toBe(scene.latency.jitter.kind === 'none');
      expect(stored!.includes('no tag'), name).toBe(!scene.camera.captureTag);
      expect(stored!.startsWith('slowed'), name).toBe(scene.camera.storedRateHz !== null);
      expect(String(presses.length), name).toBe(count);
    }
  });
  it('bytes and hashes are those of the truth files and recipes', () => {
    const rows = table(section(text, 'Sample clips'), '| file | bytes');
    expect(rows.map((row) => inlineCode(row[0]!)[0]!.replace('.mp4', ''))).toEqual(names);
    for (const [clip, bytes, hash] of rows) {
      const name = inlineCode(clip!)[0]!.replace('.mp4', '');
      for (const kind of ['truth', 'recipe']) {
        const { clip: facts } = JSON.parse(read(`sample-clips/${name}.${kind}.json`));
        const said = { file: `${name}.mp4`, bytes: Number(bytes), sha256: inlineCode(hash!)[0]! };
        expect(facts, `${name}.${kind}`).toEqual(said);
      }
    }
  });
});
