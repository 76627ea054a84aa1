import "server-only";
import { createCipheriv, createDecipheriv, hkdfSync, randomBytes } from "node:crypto";
import { environment } from "./env";

const NONCE_BYTES = 12;
const TAG_BYTES = 16;

const keyFor = (purpose: string): Buffer =>
  Buffer.from(hkdfSync("sha256", environment("AUTH_SECRET"), "", `shellgate sealed ${purpose}`, 32));

/**
 * Encrypts what the database is to keep but not to show (AES-256-GCM, the key derived from the plant's own).
 *
 * @param purpose - where it belongs, as "webhook ID": text sealed for one place does not open at another
 */
export function seal(text: string, purpose: string): Buffer {
  const nonce = randomBytes(NONCE_BYTES);
  const cipher = createCipheriv("aes-256-gcm", keyFor(purpose), nonce);
  const sealed = Buffer.concat([cipher.update(text, "utf8"), cipher.final()]);
  return Buffer.concat([nonce, cipher.getAuthTag(), sealed]);
}

/** @returns null where it was sealed with another key, for another place, or was changed since */
export function unseal(bytes: Uint8Array, purpose: string): string | null {
  const all = Buffer.from(bytes);
  if (all.length < NONCE_BYTES + TAG_BYTES) return null;
  try {
    const decipher = createDecipheriv("aes-256-gcm", keyFor(purpose), all.subarray(0, NONCE_BYTES));
    decipher.setAuthTag(all.subarray(NONCE_BYTES, NONCE_BYTES + TAG_BYTES));
    return decipher.update(all.subarray(NONCE_BYTES + TAG_BYTES), undefined, "utf8") + decipher.final("utf8");
  } catch {
    return null;
  }
}
