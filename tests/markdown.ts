/** The parts of a Markdown file that tests hold to the truth: sections, tables, code blocks, words in code. */

/** The text from a heading that begins with `title` to the next heading of the same or a higher level. */
export function section(markdown: string, title: string): string {
  const lines = markdown.split('\n');
  const from = lines.findIndex((line) => /^#+ /.test(line) && line.replace(/^#+ /, '').startsWith(title));
  if (from < 0) throw new Error(`there is no section "${title}"`);
  const level = lines[from]!.indexOf(' ');
  const to = lines.findIndex((line, i) => i > from && /^#+ /.test(line) && line.indexOf(' ') <= level);
  return lines.slice(from, to < 0 ? undefined : to).join('\n');
}

/** Rows of the first table after `marker`, head and rule left out, cells trimmed. */
export function table(markdown: string, marker = ''): string[][] {
  const at = markdown.indexOf(marker);
  if (at < 0) throw new Error(`there is no "${marker}"`);
  const lines = markdown.slice(at).split('\n');
  const first = lines.findIndex((line) => line.startsWith('|'));
  if (first < 0) throw new Error(`there is no table after "${marker}"`);
  const rest = lines.slice(first);
  const length = rest.findIndex((line) => !line.startsWith('|'));
  return rest.slice(2, length < 0 ? undefined : length).map((line) =>
    line
      .replace(/^\||\|$/g, '')
      .split(/(?<!\\)\|/)
      .map((cell) => cell.trim()),
  );
}

/** Fenced blocks of a language. */
export function codeBlocks(markdown: string, language: string): string[] {
  return [...markdown.matchAll(/^```(\w*)\n([\s\S]*?)^```/gm)]
    .filter((match) => match[1] === language)
    .map((match) => match[2]!);
}

/** Everything between single backticks, in order. */
export function inlineCode(markdown: string): string[] {
  return [...markdown.matchAll(/`([^`\n]+)`/g)].map((match) => match[1]!);
}

/** The commands of shell text, one an entry, comments and continued lines resolved, split at spaces outside double quotes. */
export function shellCommands(text: string): string[][] {
  return text
    .replace(/\\\n/g, ' ')
    .split('\n')
    .flatMap((line) => line.replace(/(^|\s)#.*$/, '').split('&&'))
    .map((command) => command.trim())
    .filter((command) => command !== '')
    .map((command) => (command.match(/(?:"[^"]*"|[^\s"])+/g) ?? []).map((word) => word.replaceAll('"', '')));
}
