import "server-only";
import { createCipheriv, createDecipheriv, createHmac, randomBytes, scrypt, timingSafeEqual } from "node:crypto";
import { AppError } from "@/lib/errors";

// A stream in pieces, each encrypted and authenticated, numbered, and the last one marked, so that none can be changed, left out,
// put elsewhere or cut off unseen: the STREAM construction of Hoang, Reyhanitabar, Rogaway and Vizár (CRYPTO 2015), with AES-256-GCM
// (NIST SP 800-38D). The key is made of the passphrase by scrypt (RFC 7914) with the cost that OWASP's Password Storage Cheat Sheet
// names first.

/** How every sealed file begins. */
export const SEALED_MARK = "shellgate sealed 1\n";
const COST = { N: 2 ** 17, r: 8, p: 1 };
const PIECE_BYTES = 64 * 2 ** 10;
const TAG_BYTES = 16;
const SALT_BYTES = 16;
/** Mark, salt, proof of the passphrase. */
const PROOF_BYTES = 32;
export const SEALED_HEADER_BYTES = SEALED_MARK.length + SALT_BYTES + PROOF_BYTES;
/** Short ones are found by trying. */
const SHORTEST = 12;

const altered = (): AppError =>
  new AppError("invalid-input", "The backup was altered or is damaged: a part of it does not open. Use another copy.");
const cutOrAltered = (): AppError =>
  new AppError("invalid-input", "The backup is not whole or was altered: its end does not open. Use another copy.");

type Keys = { readonly key: Buffer; readonly proof: Buffer };

async function keysOf(passphrase: string, salt: Buffer): Promise<Keys> {
  const made = await new Promise<Buffer>((resolve, reject) => {
    const options = { ...COST, maxmem: 256 * COST.N * COST.r };
    scrypt(passphrase.normalize("NFKC"), salt, 64, options, (error, bytes) =>
      error === null ? resolve(bytes) : reject(error),
    );
  });
  const proof = createHmac("sha256", made.subarray(32)).update(SEALED_MARK).update(salt).digest();
  return { key: made.subarray(0, 32), proof };
}

/** @throws AppError invalid-input where a passphrase is too short to protect anything */
export function assertPassphrase(passphrase: string): void {
  if (passphrase.length >= SHORTEST) return;
  throw new AppError("invalid-input", `The passphrase needs at least ${SHORTEST} characters. Nothing was written.`);
}

function nonceOf(number: number, isLast: boolean): Buffer {
  const nonce = Buffer.alloc(12);
  nonce.writeUIntBE(number, 5, 6);
  nonce[11] = isLast ? 1 : 0;
  return nonce;
}

/** Encrypts a stream: what comes out begins with the header. */
export async function* seal(source: AsyncIterable<Buffer>, passphrase: string): AsyncGenerator<Buffer> {
  assertPassphrase(passphrase);
  const salt = randomBytes(SALT_BYTES);
  const { key, proof } = await keysOf(passphrase, salt);
  yield Buffer.concat([Buffer.from(SEALED_MARK), salt, proof]);
  let number = 0;
  const sealed = (piece: Buffer, isLast: boolean): Buffer => {
    const cipher = createCipheriv("aes-256-gcm", key, nonceOf(number, isLast));
    number += 1;
    return Buffer.concat([cipher.update(piece), cipher.final(), cipher.getAuthTag()]);
  };
  for await (const { piece, isLast } of inPieces(source, PIECE_BYTES)) yield sealed(piece, isLast);
}

/** Cuts a stream into pieces of one length; the last is shorter, or empty. */
async function* inPieces(
  source: AsyncIterable<Buffer>,
  length: number,
): AsyncGenerator<{ readonly piece: Buffer; readonly isLast: boolean }> {
  let waiting: Buffer = Buffer.alloc(0);
  for await (const chunk of source) {
    waiting = waiting.length === 0 ? chunk : Buffer.concat([waiting, chunk]);
    // The last piece is known as such only at the end of the source.
    while (waiting.length > length) {
      yield { piece: waiting.subarray(0, length), isLast: false };
      waiting = waiting.subarray(length);
    }
  }
  yield { piece: waiting, isLast: true };
}

/**
 * Decrypts what `seal` wrote.
 *
 * @param header - its first SEALED_HEADER_BYTES
 * @param source - all after them
 * @throws AppError invalid-input: wrong passphrase, altered, or cut off
 */
export async function* unseal(
  header: Buffer,
  source: AsyncIterable<Buffer>,
  passphrase: string,
): AsyncGenerator<Buffer> {
  const salt = header.subarray(SEALED_MARK.length, SEALED_MARK.length + SALT_BYTES);
  const { key, proof } = await keysOf(passphrase, salt);
  if (!timingSafeEqual(proof, header.subarray(SEALED_MARK.length + SALT_BYTES, SEALED_HEADER_BYTES)))
    throw new AppError("invalid-input", "The passphrase does not open this backup. Try another one.");
  let number = 0;
  for await (const { piece, isLast } of inPieces(source, PIECE_BYTES + TAG_BYTES)) {
    const opened = open(key, nonceOf(number, isLast), piece);
    if (opened === null) throw isLast ? cutOrAltered() : altered();
    number += 1;
    if (opened.length > 0) yield opened;
  }
}

/** @returns null where it was altered, or is not the piece of that number */
function open(key: Buffer, nonce: Buffer, piece: Buffer): Buffer | null {
  if (piece.length < TAG_BYTES) return null;
  const decipher = createDecipheriv("aes-256-gcm", key, nonce);
  decipher.setAuthTag(piece.subarray(piece.length - TAG_BYTES));
  const text = decipher.update(piece.subarray(0, piece.length - TAG_BYTES));
  try {
    return Buffer.concat([text, decipher.final()]);
  } catch {
    return null;
  }
}
