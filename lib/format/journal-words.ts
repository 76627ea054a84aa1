/** What happened, in words: "sign in refused", "inspections recorded". */
export function journalAction(action: string): string {
  return action.replaceAll(/[.-]/g, " ");
}

const MOST_LETTERS = 120;

function shortened(text: string): string {
  return text.length <= MOST_LETTERS ? text : `${text.slice(0, MOST_LETTERS - 1)}…`;
}

/** Members of a payload that say what an entry is about, in the order in which they are told. */
const TOLD = [
  "key",
  "revision",
  "name",
  "gauge",
  "batch",
  "serial",
  "serials",
  "text",
  "cause",
  "reason",
  "address",
] as const;

function toldOf(member: (typeof TOLD)[number], value: unknown): string | null {
  if (member === "address" && value === null) return "on this machine";
  if (Array.isArray(value))
    return value.length === 1 ? String(value[0]) : value.length > 1 ? `${value.length} ${member}` : null;
  if (typeof value !== "string" || value === "") return null;
  if (member === "address") return `from ${value}`;
  return member === "revision" ? `revision ${value}` : value;
}

const MEMBER_WORDS: Readonly<Record<string, string>> = {
  inUse: "in use",
  timeZone: "time zone",
  viewingSide: "side",
  resolutionUm: "resolution µm",
  certifiedSizeMm: "size mm",
  uncertaintyUm: "U µm",
};

function valueWords(value: unknown): string {
  if (typeof value === "boolean") return value ? "yes" : "no";
  return typeof value === "string" || typeof value === "number" ? String(value) : "none";
}

const isRecord = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** What was changed, from what to what: "name Line 1 → Alloy line". */
function changesOf(before: unknown, after: unknown): string[] {
  if (!isRecord(before) || !isRecord(after)) return [];
  return Object.entries(after).map(
    ([member, value]) => `${MEMBER_WORDS[member] ?? member} ${valueWords(before[member])} → ${valueWords(value)}`,
  );
}

/** [serial, verdict, state] of each inspection of one recording. */
function framesOf(frames: unknown): string | null {
  if (!Array.isArray(frames) || frames.length === 0) return null;
  const [first] = frames as readonly unknown[];
  if (frames.length > 1) return `${frames.length} frames`;
  return Array.isArray(first) ? `${String(first[0])}: ${String(first[1])}` : null;
}

/**
 * What an entry is about, in one short line, from the few members of its payload that people ask for.
 *
 * @param about - name of the person that the payload names, if it does
 * @returns "" where there is nothing to add to what happened
 */
export function journalDetail(payload: unknown, about: string | null): string {
  if (typeof payload !== "object" || payload === null) return "";
  const members = payload as Readonly<Record<string, unknown>>;
  const told = TOLD.flatMap((member) => toldOf(member, members[member]) ?? []);
  const changes = changesOf(members["before"], members["after"]);
  const parts = [framesOf(members["frames"]), about, ...told, ...changes].filter((part) => part !== null);
  return shortened([...new Set(parts)].join(", "));
}
