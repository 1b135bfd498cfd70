/** The library's reference: every exported name of both entries, its declaration and its docstring. */
import { join } from 'node:path';
import ts from 'typescript';

const ENTRIES = [
  ['lagreel/pure', 'src/index.ts', 'In Node and in a browser, with no file and no decoder.'],
  ['lagreel', 'src/node.ts', 'Everything of `lagreel/pure`, and whole clips on disk.'],
] as const;

/** An exported name. */
export interface ApiName {
  readonly name: string;
  readonly declaration: string;
  readonly words: string;
}

/** Exported names of an entry, in alphabetical order. */
export function apiNames(root: string, entry: string): readonly ApiName[] {
  const { options } = ts.parseJsonConfigFileContent(
    ts.readConfigFile(join(root, 'tsconfig.json'), ts.sys.readFile).config,
    ts.sys,
    root,
  );
  const program = ts.createProgram([join(root, entry)], options);
  const checker = program.getTypeChecker();
  const module = checker.getSymbolAtLocation(program.getSourceFile(join(root, entry))!)!;
  return checker
    .getExportsOfModule(module)
    .map((exported) => {
      const symbol = exported.flags & ts.SymbolFlags.Alias ? checker.getAliasedSymbol(exported) : exported;
      const node = symbol.declarations![0]!;
      return {
        name: exported.name,
        declaration: declarationOf(node, symbol, checker),
        words: wordsOf(node, symbol, checker),
      };
    })
    .sort((a, b) => (a.name < b.name ? -1 : 1));
}

/** The whole reference, Markdown. */
export function apiReference(root: string): string {
  const seen = new Set<string>();
  const parts = ENTRIES.map(([name, entry, about]) => {
    const names = apiNames(root, entry).filter((n) => !seen.has(n.name));
    for (const n of names) seen.add(n.name);
    const entries = names.map((n) => `### ${n.name}\n\n${n.words}\n\n\`\`\`ts\n${n.declaration}\n\`\`\`\n`);
    return `## \`${name}\`\n\n${about}\n\n${entries.join('\n')}`;
  });
  return `# The library\n\nMade from the docstrings by \`npm run api\`.\n\n${parts.join('\n')}`;
}

/** Interfaces, classes and types as they stand; of functions and constants their type. */
function declarationOf(node: ts.Declaration, symbol: ts.Symbol, checker: ts.TypeChecker): string {
  if (ts.isInterfaceDeclaration(node) || ts.isTypeAliasDeclaration(node)) return node.getText();
  if (ts.isFunctionDeclaration(node)) {
    return node
      .getText()
      .slice(0, node.body!.getStart() - node.getStart())
      .trim();
  }
  const type = checker.typeToString(checker.getTypeOfSymbolAtLocation(symbol, node));
  return ts.isClassDeclaration(node) ? `class ${symbol.name}` : `const ${symbol.name}: ${type}`;
}

function wordsOf(node: ts.Declaration, symbol: ts.Symbol, checker: ts.TypeChecker): string {
  const text = ts.displayPartsToString(symbol.getDocumentationComment(checker));
  const tags = symbol
    .getJsDocTags(checker)
    .map((tag) => `- _${tag.name}_ ${ts.displayPartsToString(tag.text)}`);
  const place = ts.isVariableDeclaration(node) ? ts.getJSDocCommentsAndTags(node) : [];
  const words = text || place.map((p) => ts.getTextOfJSDocComment(p.comment) ?? '').join(' ');
  return [words.trim(), ...tags].filter((part) => part !== '').join('\n\n');
}
