/** The source as a tree of syntax: who imports whom, which names are exported with which words. Pure but for reading. */
import { readdirSync, readFileSync } from 'node:fs';
import { builtinModules } from 'node:module';
import { join, posix, relative } from 'node:path';
import ts from 'typescript';

/** One file, by its path below `src/`, with `/`. */
export interface SourceText {
  /** A `.tsx` file goes by `.ts`, as the imports of it say `.js`. */
  readonly path: string;
  readonly text: string;
  /** True where the text holds markup. */
  readonly markup?: boolean;
}

/** One import of any kind: static, re-export, dynamic, `require`, or a type in brackets. */
export interface Import {
  readonly from: string;
  /** Path below `src/` for relative imports, else as written. */
  readonly to: string;
  readonly kind: 'source' | 'builtin' | 'package';
  readonly typeOnly: boolean;
}

/** One exported name. */
export interface ExportedName {
  readonly path: string;
  readonly name: string;
  readonly documented: boolean;
}

/** Every TypeScript file below a folder. */
export function readSources(folder: string): SourceText[] {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .map((path) => ({
      path: relative(folder, path)
        .replaceAll('\\', '/')
        .replace(/\.tsx$/, '.ts'),
      text: readFileSync(path, 'utf8'),
      markup: path.endsWith('.tsx'),
    }))
    .sort((a, b) => (a.path < b.path ? -1 : 1));
}

const trees = new WeakMap<SourceText, ts.SourceFile>();
const importLists = new WeakMap<SourceText, Import[]>();

/** The syntax of a file; every rule asks for it, so it is kept as long as the text is. */
function parse(source: SourceText): ts.SourceFile {
  let tree = trees.get(source);
  if (!tree) {
    const kind = source.markup ? ts.ScriptKind.TSX : ts.ScriptKind.TS;
    tree = ts.createSourceFile(source.path, source.text, ts.ScriptTarget.ES2022, true, kind);
    trees.set(source, tree);
  }
  return tree;
}

/** The desk is two programs that share one file of types: each part of it is a room. */
const HOUSES_OF_ROOMS = ['desk'];

/** The row of the house table that a file belongs to: its first folder (of the desk its second), or the file itself. */
export function roomOf(path: string): string {
  const parts = path.split('/');
  return parts.slice(0, HOUSES_OF_ROOMS.includes(parts[0]!) ? 2 : 1).join('/');
}

/** All imports of one file, in order. */
export function importsOf(source: SourceText): readonly Import[] {
  let found = importLists.get(source);
  if (!found) {
    found = findImports(source);
    importLists.set(source, found);
  }
  return found;
}

function findImports(source: SourceText): Import[] {
  const found: Import[] = [];
  const add = (specifier: ts.Node | undefined, typeOnly: boolean) => {
    if (specifier && ts.isStringLiteralLike(specifier)) {
      found.push({ from: source.path, ...resolve(source.path, specifier.text), typeOnly });
    }
  };
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node)) add(node.moduleSpecifier, onlyTypes(node.importClause));
    else if (ts.isExportDeclaration(node)) {
      const named = node.exportClause && ts.isNamedExports(node.exportClause) ? node.exportClause : null;
      const each = named !== null && named.elements.length > 0 && named.elements.every((e) => e.isTypeOnly);
      add(node.moduleSpecifier, node.isTypeOnly || each);
    } else if (ts.isImportTypeNode(node)) {
      if (ts.isLiteralTypeNode(node.argument)) add(node.argument.literal, true);
    } else if (ts.isExternalModuleReference(node)) add(node.expression, false);
    else if (ts.isCallExpression(node)) {
      const { expression } = node;
      const isRequire = ts.isIdentifier(expression) && expression.text === 'require';
      if (expression.kind === ts.SyntaxKind.ImportKeyword || isRequire) add(node.arguments[0], false);
    }
    ts.forEachChild(node, visit);
  };
  visit(parse(source));
  return found;
}

function onlyTypes(clause: ts.ImportClause | undefined): boolean {
  if (!clause) return false;
  if (clause.isTypeOnly) return true;
  const named = clause.namedBindings;
  if (clause.name || !named || !ts.isNamedImports(named)) return false;
  return named.elements.length > 0 && named.elements.every((e) => e.isTypeOnly);
}

function resolve(from: string, specifier: string): Pick<Import, 'to' | 'kind'> {
  if (specifier.startsWith('.')) {
    const path = posix.normalize(posix.join(posix.dirname(from), specifier));
    return { to: path.replace(/\.jsx?$/, '.ts'), kind: 'source' };
  }
  if (specifier.startsWith('node:') || builtinModules.includes(specifier.split('/')[0]!)) {
    return { to: specifier, kind: 'builtin' };
  }
  const parts = specifier.split('/');
  return { to: parts.slice(0, specifier.startsWith('@') ? 2 : 1).join('/'), kind: 'package' };
}

/** Every name that a file exports by its own declaration. Re-exports have their words where they are declared. */
export function exportedNames(source: SourceText): ExportedName[] {
  const file = parse(source);
  const listed = new Set<string>();
  for (const statement of file.statements) {
    if (!ts.isExportDeclaration(statement) || statement.moduleSpecifier) continue;
    const clause = statement.exportClause;
    if (clause && ts.isNamedExports(clause)) {
      for (const e of clause.elements) listed.add((e.propertyName ?? e.name).text);
    }
  }
  const names: ExportedName[] = [];
  for (const statement of file.statements) {
    const exported =
      ts.canHaveModifiers(statement) &&
      (ts.getModifiers(statement) ?? []).some((m) => m.kind === ts.SyntaxKind.ExportKeyword);
    for (const name of declaredNames(statement)) {
      if (exported || listed.has(name)) {
        names.push({ path: source.path, name, documented: hasWords(statement) });
      }
    }
  }
  return names;
}

function declaredNames(statement: ts.Statement): string[] {
  if (ts.isVariableStatement(statement)) {
    return statement.declarationList.declarations.map((d) => d.name.getText());
  }
  const named =
    ts.isFunctionDeclaration(statement) ||
    ts.isClassDeclaration(statement) ||
    ts.isInterfaceDeclaration(statement) ||
    ts.isTypeAliasDeclaration(statement) ||
    ts.isEnumDeclaration(statement) ||
    ts.isModuleDeclaration(statement);
  return named ? [statement.name?.getText() ?? 'default'] : [];
}

function hasWords(node: ts.Node): boolean {
  return ts
    .getJSDocCommentsAndTags(node)
    .some((doc) => ts.isJSDoc(doc) && (ts.getTextOfJSDocComment(doc.comment) ?? '').trim().length > 0);
}

/** Every place where a file uses a bare global of this name, or a member of one (`Math.random`), with its line. */
export function globalUses(source: SourceText, names: readonly string[]): { name: string; line: number }[] {
  const file = parse(source);
  const uses: { name: string; line: number }[] = [];
  const visit = (node: ts.Node): void => {
    const name = globalName(node);
    if (name !== null && names.includes(name)) {
      uses.push({ name, line: file.getLineAndCharacterOfPosition(node.getStart()).line + 1 });
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return uses;
}

function globalName(node: ts.Node): string | null {
  if (ts.isPropertyAccessExpression(node) && ts.isIdentifier(node.expression)) {
    return `${node.expression.text}.${node.name.text}`;
  }
  if (!ts.isIdentifier(node)) return null;
  const { parent } = node;
  // A property or a declaration of the same name is not the global; a type position uses no value.
  if (ts.isPropertyAccessExpression(parent) && parent.name === node) return null;
  const declares = 'name' in parent && parent.name === node;
  return declares || ts.isTypeReferenceNode(parent) || ts.isQualifiedName(parent) ? null : node.text;
}
