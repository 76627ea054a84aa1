/**
 * The text of one part of a page's address. Next gives it to a page as it stands in the address, and to its title decoded
 * already: where a percent sign is left that begins no character, nothing is to be decoded any more.
 */
export function addressPart(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}
