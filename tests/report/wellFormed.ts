/** A strict reader of the report's markup: balanced tags, quoted attributes, escaped text. Throws on the first fault. */

export interface Tag {
  readonly name: string;
  readonly attributes: ReadonlyMap<string, string>;
}

const VOID = new Set(['meta', 'link', 'br', 'img']);
const ATTRIBUTE = /^\s+([A-Za-z_:][-\w:.]*)="([^"<]*)"/;
const ENTITY = /^&(?:amp|lt|gt|quot|#39);/;

function checkText(text: string, where: string): void {
  for (let i = text.indexOf('&'); i >= 0; i = text.indexOf('&', i + 1)) {
    if (!ENTITY.test(text.slice(i))) throw new Error(`bare & in ${where}: ${text.slice(i, i + 40)}`);
  }
  if (text.includes('>')) throw new Error(`bare > in ${where}: ${text.slice(0, 60)}`);
}

/** All opening tags in order, and the text of the style elements. */
export function readMarkup(source: string): { tags: Tag[]; text: string; styles: string[] } {
  const tags: Tag[] = [];
  const styles: string[] = [];
  const stack: string[] = [];
  let text = '';
  let rest = source.replace(/^<!DOCTYPE html>\n/, '');
  while (rest !== '') {
    const open = rest.indexOf('<');
    const run = open < 0 ? rest : rest.slice(0, open);
    checkText(run, stack.join('/'));
    text += run;
    if (open < 0) break;
    rest = rest.slice(open);
    const closing = /^<\/([a-zA-Z]\w*)>/.exec(rest);
    if (closing !== null) {
      const expectedName = stack.pop();
      if (expectedName !== closing[1]) throw new Error(`</${closing[1]}> closes ${expectedName}`);
      rest = rest.slice(closing[0].length);
      continue;
    }
    const name = /^<([a-zA-Z][\w]*)/.exec(rest)?.[1];
    if (name === undefined) throw new Error(`not a tag: ${rest.slice(0, 60)}`);
    rest = rest.slice(name.length + 1);
    const attributes = new Map<string, string>();
    for (let found = ATTRIBUTE.exec(rest); found !== null; found = ATTRIBUTE.exec(rest)) {
      if (attributes.has(found[1]!)) throw new Error(`attribute ${found[1]} twice in ${name}`);
      checkText(found[2]!, `${name}@${found[1]}`);
      attributes.set(found[1]!, found[2]!);
      rest = rest.slice(found[0].length);
    }
    const end = /^\s*(\/?)>/.exec(rest);
    if (end === null) throw new Error(`tag ${name} does not end: ${rest.slice(0, 60)}`);
    rest = rest.slice(end[0].length);
    tags.push({ name, attributes });
    if (end[1] === '/') continue;
    if (VOID.has(name)) throw new Error(`${name} must be closed with />`);
    stack.push(name);
    if (name === 'style') {
      const until = rest.indexOf('</style>');
      styles.push(rest.slice(0, until));
      rest = rest.slice(until);
    }
  }
  if (stack.length > 0) throw new Error(`left open: ${stack.join('/')}`);
  return { tags, text, styles };
}

/** Text with the five entities resolved. */
export function unescaped(text: string): string {
  return text
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&quot;', '"')
    .replaceAll('&#39;', "'")
    .replaceAll('&amp;', '&');
}
