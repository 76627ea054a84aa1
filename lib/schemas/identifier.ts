const HEX = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, "0"));

/**
 * A new UUID version 7 (RFC 9562, section 5.7): 48 bits of time, so that keys sort by when they were made, and 74 random
 * bits. Works in the browser and on the server.
 *
 * @param timeMs - milliseconds since 1970
 */
export function uuidV7(timeMs: number = Date.now()): string {
  const bytes = globalThis.crypto.getRandomValues(new Uint8Array(16));
  for (let index = 0; index < 6; index += 1) bytes[index] = Math.floor(timeMs / 2 ** (40 - 8 * index)) % 256;
  bytes[6] = 0x70 | ((bytes[6] ?? 0) & 0x0f);
  bytes[8] = 0x80 | ((bytes[8] ?? 0) & 0x3f);
  const text = Array.from(bytes, (byte) => HEX[byte]).join("");
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join("-");
}
