import "server-only";
import { AppError } from "../../errors";
import { BASE_WORDS } from "./words";

const texts = BASE_WORDS.requestBody;

/** Bytes of a request body unless a route says otherwise. */
export const DEFAULT_MAX_BODY_BYTES = 2 * 1024 * 1024;

function inWords(bytes: number): string {
  return bytes < 100 * 1024
    ? texts.kB(Math.round((bytes * 10) / 1024) / 10)
    : `${Math.round((bytes * 10) / (1024 * 1024)) / 10} MB`;
}

function tooLarge(maxBytes: number): AppError {
  const words = texts.bodyIsLargerThan(inWords(maxBytes));
  return new AppError("too-large", words, { details: { maxBytes } });
}

async function readBytes(request: Request, maxBytes: number): Promise<Uint8Array> {
  const declared = Number(request.headers.get("content-length") ?? 0);
  if (declared > maxBytes) throw tooLarge(maxBytes);
  if (request.body === null) return new Uint8Array();
  const chunks: Uint8Array[] = [];
  let length = 0;
  const reader: ReadableStreamDefaultReader<Uint8Array> = request.body.getReader();
  for (let part = await reader.read(); !part.done; part = await reader.read()) {
    length += part.value.byteLength;
    // Not cancelled: that would cut the connection before the sender has read the answer.
    if (length > maxBytes) throw tooLarge(maxBytes);
    chunks.push(part.value);
  }
  return chunks.length === 1 && chunks[0] !== undefined ? chunks[0] : Buffer.concat(chunks, length);
}

/**
 * The bytes of a JSON body, its size watched while it arrives; parseJson reads them.
 *
 * @throws AppError unsupported-media-type unless it is application/json, not compressed; too-large
 */
export async function readJsonBytes(request: Request, maxBytes: number): Promise<Uint8Array> {
  const contentType = request.headers.get("content-type") ?? "";
  if (!/^application\/(?:[a-z0-9.+-]+\+)?json\s*(?:;|$)/i.test(contentType)) {
    const sent = contentType === "" ? texts.noneWasNamed : texts.itWas(contentType.slice(0, 100));
    throw new AppError("unsupported-media-type", texts.bodyMustBeApplicationJson(sent));
  }
  const encoding = request.headers.get("content-encoding")?.trim().toLowerCase() ?? "";
  if (encoding !== "" && encoding !== "identity")
    throw new AppError("unsupported-media-type", texts.bodyIsCompressed(encoding.slice(0, 100)));
  return readBytes(request, maxBytes);
}

/** Lists and objects inside one another; nothing that is asked for goes deeper than ten. */
const MOST_DEPTH = 64;
/** Lists, objects and named members of one body: what memory and time of a text go by, far more than by its length. */
const MOST_PARTS = 100_000;
/** Named members of one object; nothing that is asked for has more than a plan has readings. */
const MOST_NAMES = 1_000;

const [QUOTE, BACKSLASH, COLON, COMMA, OPEN_LIST, CLOSE_LIST, OPEN_OBJECT, CLOSE_OBJECT] = Buffer.from('"\\:,[]{}');

export type ReadingLimits = {
  /** Lists, objects and named members at most. */
  readonly mostParts: number;
  /** Not JSON as a whole, but what holds JSON somewhere: brackets count wherever they stand, in texts too. */
  readonly isMixed?: boolean;
};

/** Entries of one list where parts are bounded: each that is wrong becomes a problem of its own. */
const MOST_ENTRIES = 20_000;

type Counted = { readonly depth: number; readonly parts: number; readonly names: number; readonly entries: number };

/** How deep a JSON text goes, how many lists, objects and members it has, and one object at most; counted until one is too much. */
function countParts(bytes: Uint8Array, { mostParts, isMixed = false }: ReadingLimits): Counted {
  let [depth, deepest, parts, most, longest] = [0, 0, 0, 0, 0];
  const names = new Uint32Array(MOST_DEPTH + 2);
  const entries = new Uint32Array(MOST_DEPTH + 2);
  for (let at = 0; at < bytes.length; at += 1) {
    if (deepest > MOST_DEPTH || parts > mostParts || most > MOST_NAMES) break;
    const byte = bytes[at];
    if (byte === QUOTE && !isMixed) {
      at += 1;
      while (at < bytes.length && bytes[at] !== QUOTE) at += bytes[at] === BACKSLASH ? 2 : 1;
    } else if (byte === OPEN_LIST || byte === OPEN_OBJECT) {
      depth += 1;
      parts += 1;
      if (depth > deepest) deepest = depth;
      names[depth] = 0;
      entries[depth] = 1;
    } else if (byte === CLOSE_LIST || byte === CLOSE_OBJECT) depth = Math.max(0, depth - 1);
    else if (byte === COLON) {
      parts += 1;
      const own = (names[depth] ?? 0) + 1;
      names[depth] = own;
      if (own > most) most = own;
    } else if (byte === COMMA) {
      const own = (entries[depth] ?? 0) + 1;
      entries[depth] = own;
      if (own > longest) longest = own;
    }
  }
  return { depth: deepest, parts, names: most, entries: longest };
}

/**
 * Refuses what takes long to read although it is short: a million brackets inside one another, or side by side. Counted in one
 * pass over the bytes, before anything is made of them.
 *
 * @throws AppError invalid-input, too-large
 */
export function assertReadable(bytes: Uint8Array, limits: ReadingLimits): void {
  const { mostParts } = limits;
  const { depth, parts, names, entries } = countParts(bytes, limits);
  if (depth > MOST_DEPTH)
    throw new AppError("invalid-input", texts.bodyHasMoreThanLists(MOST_DEPTH), { details: { mostDepth: MOST_DEPTH } });
  if (names > MOST_NAMES)
    throw new AppError("too-large", texts.objectOfBodyHasMore(MOST_NAMES), { details: { mostNames: MOST_NAMES } });
  if (Number.isFinite(mostParts) && !limits.isMixed && entries > MOST_ENTRIES)
    throw new AppError("too-large", texts.listOfBodyHasMore(MOST_ENTRIES), { details: { mostEntries: MOST_ENTRIES } });
  if (parts > mostParts)
    throw new AppError("too-large", texts.bodyHasMoreMostParts(mostParts), { details: { mostParts } });
}

/**
 * @param mostParts - lists, objects and named members at most; as many as come where nobody waits for the thread that reads them
 * @throws AppError invalid-input if the bytes are not UTF-8 JSON, or too deep; too-large where it has too many parts
 */
export function parseJson(bytes: Uint8Array, mostParts = Infinity): unknown {
  assertReadable(bytes, { mostParts });
  try {
    return JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(bytes)) as unknown;
  } catch (cause) {
    const words = bytes.byteLength === 0 ? texts.bodyIsEmpty : texts.bodyIsNotValidJson;
    throw new AppError("invalid-input", texts.nothingWasKept(words), { cause });
  }
}

/**
 * The body as JSON, its size watched while it arrives.
 *
 * @throws AppError unsupported-media-type unless it is application/json; too-large; invalid-input if it is not UTF-8 JSON, or too deep
 */
export async function readJsonBody(request: Request, maxBytes: number = DEFAULT_MAX_BODY_BYTES): Promise<unknown> {
  return parseJson(await readJsonBytes(request, maxBytes), MOST_PARTS);
}
