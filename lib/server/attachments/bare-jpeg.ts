import "server-only";

/** Markers of a JPEG file (ITU-T T.81, table B.1), with the byte 0xFF before each. */
const START_OF_IMAGE = 0xd8;
const END_OF_IMAGE = 0xd9;
const START_OF_SCAN = 0xda;
const APP0 = 0xe0;
const APP14 = 0xee;
const DEFINES_TABLES: ReadonlySet<number> = new Set([0xc4, 0xcc, 0xdb, 0xdc, 0xdd]);
/** Start of frame of each coding; 0xC4, 0xC8 and 0xCC are none. */
const isStartOfFrame = (marker: number): boolean =>
  marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc;
/** Segments of one file: pictures have some hundred at most, and each costs more than its few bytes. */
const MOST_SEGMENTS = 5_000;
const isRestart = (marker: number): boolean => marker >= 0xd0 && marker <= 0xd7;

/** A JFIF segment that says nothing but how the colours are meant: version 1.01, square pixels, no thumbnail (ITU-T T.871). */
const PLAIN_JFIF = Buffer.from("ffe000104a46494600010100000100010000", "hex");
const ADOBE_LENGTH = 14;

/** Where the coded data of a scan end: at the next marker that is neither a stuffed byte nor a restart. */
function endOfScan(bytes: Buffer, from: number): number {
  let at = bytes.indexOf(0xff, from);
  while (at >= 0 && at + 1 < bytes.length) {
    const next = bytes[at + 1] ?? 0;
    if (next !== 0 && next !== 0xff && !isRestart(next)) return at;
    at = bytes.indexOf(0xff, next === 0xff ? at + 1 : at + 2);
  }
  return bytes.length;
}

/** The segment to keep of one that the file has; null: it is left out. */
function keptSegment(marker: number, segment: Buffer, isFirst: boolean): Buffer | null {
  if (isStartOfFrame(marker) || DEFINES_TABLES.has(marker) || marker === START_OF_SCAN) return segment;
  if (marker === APP0 && isFirst && segment.toString("latin1", 4, 8) === "JFIF") return PLAIN_JFIF;
  // How the colours were transformed: without it some decoders show them wrong.
  if (marker === APP14 && segment.length === 2 + ADOBE_LENGTH && segment.toString("latin1", 4, 9) === "Adobe")
    return segment;
  return null;
}

/**
 * A JPEG file with its picture and nothing else: no data of the camera or of a program (Exif, XMP, IPTC, colour profiles,
 * comments, thumbnails, further pictures), and nothing behind its end. The picture's own bytes stay as they are, so that the
 * same file gives the same bytes each time.
 *
 * @returns null where it is no whole JPEG file, or one of more segments than any picture has
 */
export function bareJpeg(bytes: Buffer): Buffer | null {
  if (bytes.length < 4 || bytes.readUInt16BE(0) !== 0xff00 + START_OF_IMAGE) return null;
  const kept: Buffer[] = [bytes.subarray(0, 2)];
  let hasFrame = false;
  let hasScan = false;
  let at = 2;
  let segments = 0;
  while (at + 2 <= bytes.length) {
    if (bytes[at] !== 0xff) return null;
    const marker = bytes[at + 1] ?? 0;
    if (marker === 0xff) {
      at += 1;
      continue;
    }
    if (marker === END_OF_IMAGE) break;
    if (at + 4 > bytes.length || marker === START_OF_IMAGE || marker === 0) return null;
    segments += 1;
    if (segments > MOST_SEGMENTS) return null;
    const end = at + 2 + bytes.readUInt16BE(at + 2);
    if (end < at + 4 || end > bytes.length) return null;
    const segment = keptSegment(marker, bytes.subarray(at, end), kept.length === 1);
    if (segment !== null) kept.push(segment);
    hasFrame ||= isStartOfFrame(marker);
    at = end;
    if (marker !== START_OF_SCAN) continue;
    if (!hasFrame) return null;
    hasScan = true;
    at = endOfScan(bytes, end);
    kept.push(bytes.subarray(end, at));
  }
  if (!hasScan) return null;
  return Buffer.concat([...kept, Buffer.from([0xff, END_OF_IMAGE])]);
}
