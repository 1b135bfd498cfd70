/** What requests carry, checked key by key; a recipe in them is checked where it is used. */
import type { Context } from 'hono';
import { ALLOWANCES, type Allowance } from '../../node.js';
import type { DeskEnv } from './gate.js';
import { Refusal } from './refusal.js';

type Fields = Readonly<Record<string, unknown>>;

/** The object that a request carries as JSON. Throws a `Refusal` 415 or 400. */
export async function jsonBody(c: Context<DeskEnv>): Promise<Fields> {
  const type = c.req.header('content-type') ?? '';
  if (!/^application\/json\s*(;|$)/i.test(type))
    throw new Refusal(415, 'The desk takes application/json and nothing else.');
  let body: unknown;
  try {
    body = await c.req.json();
  } catch (error) {
    if (error instanceof SyntaxError) throw new Refusal(400, 'The request is not valid JSON.');
    throw error;
  }
  if (typeof body !== 'object' || body === null || Array.isArray(body))
    throw new Refusal(400, 'The request must be a JSON object.');
  return body as Fields;
}

function checkKeys(body: Fields, known: readonly string[]): void {
  const other = Object.keys(body).find((key) => !known.includes(key));
  if (other !== undefined) throw new Refusal(400, `The request has an unknown key ${JSON.stringify(other)}.`);
}

function tag(value: unknown): string | null {
  if (value === null) return null;
  if (typeof value === 'string' && /^[0-9a-f]{64}$/.test(value)) return value;
  throw new Refusal(
    400,
    'ifTag must be the tag of the recipe as it was loaded, or null where there was none.',
  );
}

/** Body of `PUT recipe`. */
export function saveBody(body: Fields): { readonly recipe: unknown; readonly ifTag: string | null } {
  checkKeys(body, ['recipe', 'ifTag']);
  return { recipe: body.recipe, ifTag: tag(body.ifTag) };
}

/** Body of `POST measure`. */
export function measureBody(body: Fields): {
  readonly recipe: unknown;
  readonly ifTag: string | null;
  readonly save: boolean;
} {
  checkKeys(body, ['recipe', 'ifTag', 'save']);
  if (typeof body.save !== 'boolean') throw new Refusal(400, 'save must be true or false.');
  const needsTag = body.save && body.recipe !== undefined;
  return { recipe: body.recipe, ifTag: needsTag ? tag(body.ifTag) : null, save: body.save };
}

/** Body of `POST find`. */
export function findBody(body: Fields): { readonly recipe: unknown } {
  checkKeys(body, ['recipe']);
  return { recipe: body.recipe };
}

const isText = (value: unknown): value is string => typeof value === 'string';

/** Body of `POST compare`. */
export function compareBody(body: Fields): {
  readonly ids: readonly string[];
  readonly by: readonly string[];
  readonly baseline: Readonly<Record<string, string>> | null;
  readonly marginMs: number;
  readonly allow: readonly Allowance[];
} {
  checkKeys(body, ['ids', 'by', 'baseline', 'marginMs', 'allow']);
  const { ids, by, baseline = null, marginMs = 1, allow = [] } = body;
  if (!Array.isArray(ids) || !ids.every(isText) || ids.length === 0)
    throw new Refusal(400, 'ids must be a list of clips.');
  if (!Array.isArray(by) || !by.every(isText) || by.length === 0)
    throw new Refusal(400, 'by must be a list of label keys.');
  const isLabels = (value: unknown): value is Record<string, string> =>
    typeof value === 'object' && value !== null && Object.values(value).every(isText);
  if (baseline !== null && !isLabels(baseline)) throw new Refusal(400, 'baseline must be labels, or null.');
  if (typeof marginMs !== 'number' || !(marginMs >= 0.01 && marginMs <= 1000))
    throw new Refusal(400, 'marginMs must be a number from 0.01 to 1000.');
  const isAllowance = (value: unknown): value is Allowance => ALLOWANCES.some((a) => a === value);
  if (!Array.isArray(allow) || !allow.every(isAllowance))
    throw new Refusal(400, `allow must be a list of ${ALLOWANCES.join(', ')}.`);
  return { ids: [...new Set(ids)], by, baseline, marginMs, allow };
}
