/** Labels as people write them: `name: value`, one a line. */

/** The lines of labels, in their order. */
export function labelLines(labels: Readonly<Record<string, string>>): string {
  return Object.entries(labels)
    .map(([name, value]) => `${name}: ${value}`)
    .join('\n');
}

/** Labels of lines, or one sentence about the first line that is none. Empty lines are passed over. */
export function labelsOfLines(text: string): { labels: Record<string, string> } | { fault: string } {
  const labels: Record<string, string> = {};
  for (const line of text.split('\n').map((l) => l.trim())) {
    if (line === '') continue;
    const [, name, value] = /^([^:]+):(.+)$/.exec(line) ?? [];
    if (name === undefined || value === undefined) return { fault: `"${line}" is not "name: value".` };
    labels[name.trim()] = value.trim();
  }
  return { labels };
}
