/** A table where it fits the terminal, else one wrapped line a row that names each value. */
import { columnTable, wrap } from './terminal.js';

/**
 * Lines of a table whose first row is its header.
 * @param width columns of the terminal
 * @param leftColumns columns that stand to the left, as for `columnTable`
 */
export function fittingTable(
  rows: readonly (readonly string[])[],
  width: number,
  leftColumns = 1,
): readonly string[] {
  const table = columnTable(rows, width, leftColumns);
  if (table !== null) return table;
  const [header = [], ...body] = rows;
  return body.flatMap((row) => {
    const named = row.flatMap((value, c) =>
      value === '' ? [] : [header[c] ? `${header[c]} ${value}` : value],
    );
    return wrap(named.join(', '), width, '  ', '    ');
  });
}

/** The rows without a column that says the same in every row below the header. */
export function withoutConstant(
  rows: readonly (readonly string[])[],
  column: number,
): readonly (readonly string[])[] {
  if (new Set(rows.slice(1).map((row) => row[column])).size > 1) return rows;
  return rows.map((row) => row.filter((_, c) => c !== column));
}
