export type ListedSerial = { readonly serial: string; readonly mould?: string | undefined; readonly line: number };
export type SerialProblem = { readonly line: number; readonly message: string };
export type SerialList = { readonly serials: readonly ListedSerial[]; readonly problems: readonly SerialProblem[] };

const MOST_SERIALS = 10_000;
const LONGEST = 64;

/** Beyond so many the list is not the one that was meant. */
const MOST_PROBLEMS = 50;

/** A serial as what comes before its last number, and that number's digits; null where it does not end in one. */
function atLastNumber(serial: string): { readonly head: string; readonly digits: string } | null {
  let at = serial.length;
  while (at > 0 && /\d/.test(serial.charAt(at - 1))) at -= 1;
  return at === serial.length ? null : { head: serial.slice(0, at), digits: serial.slice(at) };
}

/** @param room - how many serials may still come */
function expandRange(from: string, to: string, room: number): readonly string[] | string {
  const [first, last] = [atLastNumber(from), atLastNumber(to)];
  if (!first || !last) return "both ends of a range must end in a number, as C41-05000..C41-05047";
  if (first.head !== last.head) return `both ends must begin the same, but "${first.head}" is not "${last.head}"`;
  if (first.digits.length !== last.digits.length) return "both ends must have the same number of digits";
  const [start, end] = [Number(first.digits), Number(last.digits)];
  if (!Number.isSafeInteger(end)) return "the number at the end is too large to count with";
  if (start > end) return "the first number must not be above the last";
  if (end - start >= room) return `a batch has at most ${MOST_SERIALS} frames`;
  return Array.from(
    { length: end - start + 1 },
    (_, step) => first.head + String(start + step).padStart(first.digits.length, "0"),
  );
}

/**
 * Serials as a person types or pastes them: one to a line, or a range "C41-05000..C41-05047"; what follows a tab, a comma or
 * a semicolon is the mould. Problems name their line; a serial that stands twice is one.
 *
 * @param text - any number of lines; empty ones are passed over. After fifty problems the rest is not read
 */
export function readSerialList(text: string): SerialList {
  const serials: ListedSerial[] = [];
  const problems: SerialProblem[] = [];
  const firstLine = new Map<string, number>();
  text.split(/\r?\n/).forEach((raw, index) => {
    const line = index + 1;
    const refuse = (message: string): void => void problems.push({ line, message });
    if (problems.length >= MOST_PROBLEMS || raw.trim() === "") return;
    const cells = raw.split(/[\t,;]/).map((cell) => cell.trim());
    const [entry = "", mould = ""] = cells;
    if (cells.length > 2) return refuse("a line has a serial and at most a mould");
    if (entry === "") return refuse("the serial is missing");
    if (mould.length > LONGEST) return refuse(`a mould has at most ${LONGEST} characters`);
    const ends = entry.split("..").map((end) => end.trim());
    if (ends.length > 2) return refuse("a range has two ends");
    if (ends.some((end) => end.length > LONGEST)) return refuse(`a serial has at most ${LONGEST} characters`);
    const room = MOST_SERIALS - serials.length;
    const expanded = ends.length === 2 ? expandRange(ends[0] ?? "", ends[1] ?? "", room) : [entry];
    if (typeof expanded === "string") return refuse(expanded);
    if (/\s/.test(expanded[0] ?? "")) return refuse("a serial has no spaces in it");
    if (serials.length + expanded.length > MOST_SERIALS) return refuse(`a batch has at most ${MOST_SERIALS} frames`);
    const twice = expanded.find((serial) => firstLine.has(serial));
    if (twice !== undefined) return refuse(`${twice} stands in line ${firstLine.get(twice)} already`);
    for (const serial of expanded) {
      firstLine.set(serial, line);
      serials.push({ serial, line, ...(mould === "" ? {} : { mould }) });
    }
  });
  return { serials, problems };
}
