/** Topics of `lagreel help`: parts of the README and the changelog that come with the package, set for a terminal. */
import { readFile } from 'node:fs/promises';
import { packageFolder } from '../packageFolder.js';

interface Topic {
  readonly about: string;
  readonly file: 'README.md' | 'src/changelog.md';
  /** Headings of the parts, in order; empty for the whole file. */
  readonly sections: readonly string[];
}

/** Topics by name. */
export const TOPICS: Readonly<Record<string, Topic>> = {
  filming: {
    about: 'how to film, and what to be careful of',
    file: 'README.md',
    sections: ['How to film', 'Cautions'],
  },
  method: { about: 'how to read a result', file: 'README.md', sections: ['How to read the result'] },
  files: { about: 'the files that are written', file: 'README.md', sections: ['Files'] },
  'exit-codes': { about: 'exit codes', file: 'README.md', sections: ['Exit codes'] },
  decoder: { about: 'which FFmpeg is used', file: 'README.md', sections: ['FFmpeg'] },
  limits: { about: 'what is not there, or not known to be right', file: 'README.md', sections: ['Limits'] },
  changes: { about: 'what changed from version to version', file: 'src/changelog.md', sections: [] },
};

/** The text of a topic, no line longer than `width` where words allow. */
export async function topicText(name: string, width: number): Promise<string> {
  const { file, sections } = TOPICS[name]!;
  const text = await readFile(new URL(file, packageFolder), 'utf8');
  const parts = sections.length > 0 ? sections.map((heading) => sectionOf(text, heading)) : [text];
  return parts.map((part) => setForTerminal(part, width)).join('\n');
}

/** A part with its heading, up to the next heading of its level or above. */
function sectionOf(text: string, heading: string): string {
  const lines = text.split('\n');
  const from = lines.findIndex((line) => /^#+ /.test(line) && line.replace(/^#+ /, '') === heading);
  if (from < 0) throw new Error(`there is no part "${heading}"`);
  const level = lines[from]!.indexOf(' ');
  const length = lines.slice(from + 1).findIndex((line) => /^#+ /.test(line) && line.indexOf(' ') <= level);
  return lines.slice(from, length < 0 ? undefined : from + 1 + length).join('\n');
}

/** Markdown as plain text: paragraphs and lists wrapped, a table as its first column with the rest below it. */
export function setForTerminal(markdown: string, width: number): string {
  const out: string[] = [];
  let isCode = false;
  let isTableHead = true;
  for (const line of markdown.split('\n')) {
    if (line.startsWith('```')) isCode = !isCode;
    else if (isCode) out.push(`  ${line}`);
    else if (/^<!--/.test(line)) continue;
    else if (/^#+ /.test(line)) out.push(plain(line.replace(/^#+ /, '')).toUpperCase());
    else if (/^\|[ :|-]+\|$/.test(line)) isTableHead = false;
    else if (line.startsWith('|')) {
      if (!isTableHead) out.push(...row(line, width));
    } else {
      isTableHead = true;
      const indent = /^(?:> ?)?(?:- |\d+\. )?/.exec(line)![0].replace('> ', '');
      const words = plain(line.replace(/^(?:> ?)?(?:- |\d+\. )?/, ''));
      out.push(...wrapped(words, width, indent, ' '.repeat(indent.length)));
    }
  }
  return `${out
    .join('\n')
    .replace(/\n{3,}/g, '\n\n')
    .trim()}\n`;
}

function row(line: string, width: number): string[] {
  const [first, ...rest] = line
    .slice(1, -1)
    .split(/(?<!\\)\|/)
    .map((cell) => plain(cell.trim().replaceAll('\\|', '|')));
  const words = rest.filter((cell) => cell !== '').join('; ');
  return [`  ${first}`, ...wrapped(words, width, '      ', '      ')];
}

/** Without the marks of Markdown. */
function plain(text: string): string {
  return text
    .replace(/\[([^\]]*)\]\([^)]*\)/g, '$1')
    .replace(/\*\*([^*]+)\*\*/g, '$1')
    .replace(/(^|\W)_([^_]+)_(?=\W|$)/g, '$1$2')
    .replaceAll('`', '');
}

function wrapped(text: string, width: number, first: string, other: string): string[] {
  const lines: string[] = [];
  let line = first;
  for (const word of text.split(' ').filter((w) => w !== '')) {
    const isBare = line === first || line === other;
    if (!isBare && line.length + 1 + word.length > width) {
      lines.push(line);
      line = other + word;
    } else line = isBare ? line + word : `${line} ${word}`;
  }
  return [...lines, line.trimEnd()];
}
