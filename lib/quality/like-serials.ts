const DIGITS = [..."0123456789"];
/** A longer text is no serial that somebody misread; its candidates would be thousands. */
const LONGEST = 40;

/**
 * Serials that a slip could have made of another one: a digit that is another, one too few, one too many, or two neighbours
 * exchanged. Capitals do not matter.
 *
 * @returns candidates in small letters, each once, without the serial itself; [] for a text that no serial is as long as
 */
export function serialsOneDigitOff(serial: string): readonly string[] {
  const text = serial.toLowerCase();
  if (text.length > LONGEST) return [];
  const candidates = new Set<string>();
  const isDigit = (at: number): boolean => DIGITS.includes(text.charAt(at));
  for (let at = 0; at <= text.length; at += 1) {
    const [before, after] = [text.slice(0, at), text.slice(at)];
    for (const digit of DIGITS) {
      candidates.add(before + digit + after);
      if (isDigit(at)) candidates.add(before + digit + after.slice(1));
    }
    if (isDigit(at)) candidates.add(before + after.slice(1));
    if (isDigit(at) && isDigit(at + 1)) candidates.add(before + after.charAt(1) + after.charAt(0) + after.slice(2));
  }
  candidates.delete(text);
  return [...candidates];
}
