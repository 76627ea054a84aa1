import "server-only";
import { AppError } from "@/lib/errors";

// The ustar format of POSIX.1-2017 (pax, "ustar Interchange Format"), which every tar reads: plain files only.

const BLOCK = 512;
const NAME = 100;
const PREFIX = 155;
/** The largest size that eleven octal digits say. */
const LARGEST = 8 ** 11 - 1;

const padding = (bytes: number): number => (BLOCK - (bytes % BLOCK)) % BLOCK;

/** Name and prefix as the header has them. @throws AppError where no place splits a name that is too long */
function splitName(path: string): readonly [string, string] {
  if (Buffer.byteLength(path) <= NAME) return [path, ""];
  for (let at = path.indexOf("/"); at > 0; at = path.indexOf("/", at + 1)) {
    const [prefix, name] = [path.slice(0, at), path.slice(at + 1)];
    if (Buffer.byteLength(prefix) <= PREFIX && Buffer.byteLength(name) <= NAME) return [name, prefix];
  }
  throw new AppError("invalid-input", `The name ${path} is too long to be kept. Give that file a shorter one.`);
}

function header(path: string, size: number, mode: number, modifiedS: number): Buffer {
  if (size > LARGEST) throw new AppError("too-large", `The file ${path} is too large to be kept in one piece (8 GiB).`);
  const [name, prefix] = splitName(path);
  const block = Buffer.alloc(BLOCK);
  const octal = (value: number, digits: number): string => `${value.toString(8).padStart(digits, "0")}\0`;
  block.write(name, 0);
  block.write(octal(mode, 7), 100);
  block.write(octal(0, 7), 108);
  block.write(octal(0, 7), 116);
  block.write(octal(size, 11), 124);
  block.write(octal(Math.max(0, modifiedS), 11), 136);
  block.write("        ", 148);
  block.write("0", 156);
  block.write("ustar\x0000", 257, "latin1");
  block.write(prefix, 345);
  const sum = block.reduce((all, byte) => all + byte, 0);
  block.write(`${sum.toString(8).padStart(6, "0")}\0 `, 148);
  return block;
}

export type TarEntry = { readonly name: string; readonly mode: number; readonly content: Buffer };

/** One file with its header, as it stands in the archive. */
export function tarEntry(name: string, content: Buffer, mode: number, modifiedS: number): readonly Buffer[] {
  return [header(name, content.length, mode, modifiedS), content, Buffer.alloc(padding(content.length))];
}

/** Two empty blocks end an archive. */
export const TAR_END = Buffer.alloc(2 * BLOCK);

const textOf = (block: Buffer, from: number, length: number): string => {
  const field = block.subarray(from, from + length);
  const end = field.indexOf(0);
  return field.subarray(0, end < 0 ? length : end).toString("utf8");
};

/** Bytes that arrive in any pieces, taken in the pieces that are asked for. */
class Pieces {
  #waiting: Buffer[] = [];
  #bytes = 0;
  readonly #source: AsyncIterator<Buffer>;

  constructor(source: AsyncIterable<Buffer>) {
    this.#source = source[Symbol.asyncIterator]();
  }
  /** @returns null where the source ends before */
  async take(length: number): Promise<Buffer | null> {
    while (this.#bytes < length) {
      const next = await this.#source.next();
      if (next.done === true) return null;
      this.#waiting.push(next.value);
      this.#bytes += next.value.length;
    }
    const all = this.#waiting.length === 1 ? (this.#waiting[0] ?? Buffer.alloc(0)) : Buffer.concat(this.#waiting);
    const rest = all.subarray(length);
    this.#waiting = rest.length === 0 ? [] : [rest];
    this.#bytes = rest.length;
    return all.subarray(0, length);
  }
  /** Reads to the end, so that whoever checks the source sees all of it. */
  async drain(): Promise<void> {
    for (let next = await this.#source.next(); next.done !== true;) next = await this.#source.next();
  }
}

/**
 * The files of an archive in their order, each whole in memory.
 *
 * @param mostBytes - of one file
 * @returns ends where the archive's end is; `cut` is thrown where it ends before, `damaged` where a header is none
 */
export async function* readTar(
  source: AsyncIterable<Buffer>,
  mostBytes: number,
  faults: { readonly cut: () => Error; readonly damaged: () => Error },
): AsyncGenerator<TarEntry> {
  const pieces = new Pieces(source);
  for (;;) {
    const block = await pieces.take(BLOCK);
    if (block === null) throw faults.cut();
    if (block.every((byte) => byte === 0)) break;
    const sum = block.reduce((all, byte, at) => all + (at >= 148 && at < 156 ? 0x20 : byte), 0);
    const size = Number.parseInt(textOf(block, 124, 12), 8);
    const isSound = Number.parseInt(textOf(block, 148, 8), 8) === sum && Number.isInteger(size) && size <= mostBytes;
    if (!isSound) throw faults.damaged();
    const [name, prefix] = [textOf(block, 0, NAME), textOf(block, 345, PREFIX)];
    const mode = Number.parseInt(textOf(block, 100, 8), 8) & 0o777;
    const content = await pieces.take(size + padding(size));
    if (content === null) throw faults.cut();
    yield { name: prefix === "" ? name : `${prefix}/${name}`, mode, content: content.subarray(0, size) };
  }
  await pieces.drain();
}
