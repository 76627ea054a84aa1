import { UI_WORDS } from "./words";
const words = UI_WORDS.journalLinks;

/** A record that an entry of the journal is about, and the page that shows it. */
export type JournalLink = { readonly label: string; readonly href: string };

const MOST_LINKS = 6;

const page = (folder: string, key: string): string => `/${folder}/${encodeURIComponent(key)}`;

/** Members of a payload that name one record by its key: the folder of its page. */
const FOLDER_OF: Readonly<Record<string, string>> = {
  serial: "frames",
  batch: "gate/batches",
  gauge: "setup/gauges",
  ring: "setup/gauges/rings",
  stream: "drift/streams",
  line: "setup/plant/line",
};

/** Kinds of entry whose member `key` or `id` names a record: the first word of what happened. */
const KEYED: Readonly<Record<string, string>> = {
  batch: "gate/batches",
  gauge: "setup/gauges",
  "setting-ring": "setup/gauges/rings",
  line: "setup/plant/line",
  operation: "setup/plant/operation",
  station: "setup/plant/station",
  supplier: "setup/plant/supplier",
  "frame-model": "setup/plant/model",
};
const BY_ID: Readonly<Record<string, string>> = { drawing: "setup/drawings", plan: "setup/plans" };

const isText = (value: unknown): value is string => typeof value === "string" && value !== "";

const textsOf = (value: unknown): string[] => (Array.isArray(value) ? value.filter(isText) : []);

/** Serials of a recording: [serial, verdict, state] of each inspection. */
const serialsOf = (frames: unknown): string[] =>
  Array.isArray(frames) ? frames.flatMap((one: unknown) => (Array.isArray(one) && isText(one[0]) ? [one[0]] : [])) : [];

/**
 * What an entry of the journal leads to, the first few of it.
 *
 * @param action - "gauge.created": its first word says what a key names
 */
export function journalLinks(action: string, payload: unknown): readonly JournalLink[] {
  if (typeof payload !== "object" || payload === null) return [];
  const members = payload as Readonly<Record<string, unknown>>;
  const [subject = ""] = action.split(".");
  const links: JournalLink[] = [];
  for (const [member, folder] of Object.entries(FOLDER_OF)) {
    const key = members[member];
    if (isText(key)) links.push({ label: member === "stream" ? words.theStream : key, href: page(folder, key) });
  }
  const { key, id, personId } = members;
  const [keyed, byId] = [KEYED[subject], BY_ID[subject]];
  if (keyed !== undefined && isText(key)) links.push({ label: key, href: page(keyed, key) });
  if (byId !== undefined && isText(id)) links.push({ label: words.the(subject), href: page(byId, id) });
  if (isText(personId)) links.push({ label: words.thePerson, href: page("setup/people", personId) });
  const serials = [...serialsOf(members["frames"]), ...textsOf(members["serials"]), ...textsOf(members["heldSerials"])];
  for (const serial of serials) links.push({ label: serial, href: page("frames", serial) });
  const seen = new Set<string>();
  return links.filter(({ href }) => !seen.has(href) && seen.add(href)).slice(0, MOST_LINKS);
}
