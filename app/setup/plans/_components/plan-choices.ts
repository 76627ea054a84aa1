import { formatReadingName, parseReadingName, type ReadingName, type Seat } from "@/lib/core/metrology/reading-name";
import { readTypedNumber } from "@/lib/schemas/typed-number";
import { PLAN_WORDS } from "../../words/plans";

const words = PLAN_WORDS.choices;

/** The readings of a plan by what is chosen: ticked places, not yet their order. */
export type PlanChoices = {
  readonly bore: Readonly<Record<Seat, { readonly depths: string; readonly directions: readonly number[] }>>;
  readonly sweep: Readonly<Record<Seat, { readonly depths: string; readonly angles: readonly number[] }>>;
  readonly face: Readonly<Record<Seat, readonly number[]>>;
  readonly width: readonly number[];
  /** Plug sizes, mm, as typed; they are felt in both seats. */
  readonly plugs: string;
  /** Sizes of rods that are tried across both seats, mm, as typed. */
  readonly rods: string;
  readonly bars: string;
};

export const SEATS = ["ds", "nds"] as const;
export type KeyingOrder = "direction" | "depth" | "sides";

const unique = (values: readonly number[]) => [...new Set(values)].sort((a, b) => a - b);
const partsOf = (text: string): readonly string[] => text.split(/[;\s]+/).filter((part) => part !== "");
const numberOf = (part: string): number | null => {
  const value = readTypedNumber(part);
  return value === null || value < 0 ? null : value;
};
const numbers = (text: string): number[] =>
  partsOf(text)
    .map(numberOf)
    .filter((value) => value !== null);
const BAR_SET = /^[A-Za-z0-9-]+$/;

/** What of the typed depths or sizes is no number, in words; undefined where all are. */
export function unreadNumbers(text: string): string | undefined {
  const bad = partsOf(text).find((part) => numberOf(part) === null);
  return bad === undefined ? undefined : words.isNoNumber(bad);
}

/** What of the typed bar sets cannot be one, in words; undefined where all can. */
export function unreadBars(text: string): string | undefined {
  const bad = partsOf(text).find((part) => !BAR_SET.test(part));
  return bad === undefined ? undefined : words.isNoSet(bad);
}

/** Names as they are written, read; what is none is left out. */
export function readNames(texts: readonly string[]): readonly ReadingName[] {
  return texts.flatMap((text) => {
    const name = parseReadingName(text);
    return name.ok ? [name.value] : [];
  });
}

function forBothSeats<T>(make: (seat: Seat) => T): Record<Seat, T> {
  return { ds: make("ds"), nds: make("nds") };
}

/** What was chosen so that a plan has these readings. */
export function choicesOf(names: readonly ReadingName[]): PlanChoices {
  const depths = (kind: "bore" | "sweep", seat: Seat) =>
    unique(names.flatMap((one) => (one.kind === kind && one.seat === seat ? [one.depthMm] : []))).join("; ");
  const sizesOf = (across: boolean) =>
    unique(names.flatMap((one) => (one.kind === "plug" && (one.across === true) === across ? [one.sizeMm] : []))).join(
      "; ",
    );
  return {
    bore: forBothSeats((seat) => ({
      depths: depths("bore", seat),
      directions: unique(names.flatMap((one) => (one.kind === "bore" && one.seat === seat ? [one.directionDeg] : []))),
    })),
    sweep: forBothSeats((seat) => ({
      depths: depths("sweep", seat),
      angles: unique(names.flatMap((one) => (one.kind === "sweep" && one.seat === seat ? [one.angleDeg] : []))),
    })),
    face: forBothSeats((seat) =>
      unique(names.flatMap((one) => (one.kind === "face" && one.seat === seat ? [one.angleDeg] : []))),
    ),
    width: unique(names.flatMap((one) => (one.kind === "width" ? [one.clockDeg] : []))),
    plugs: sizesOf(false),
    rods: sizesOf(true),
    bars: [...new Set(names.flatMap((one) => (one.kind === "bar" ? [one.set] : [])))].join("; "),
  };
}

/** Every reading that is chosen, DS first, then NDS, then over both. */
export function readingsOf(choices: PlanChoices): readonly ReadingName[] {
  const bores = (seat: Seat) =>
    choices.bore[seat].directions.flatMap((directionDeg) =>
      numbers(choices.bore[seat].depths).map((depthMm): ReadingName => ({ kind: "bore", seat, depthMm, directionDeg })),
    );
  const sweeps = (seat: Seat) =>
    numbers(choices.sweep[seat].depths).flatMap((depthMm) =>
      choices.sweep[seat].angles.map((angleDeg): ReadingName => ({ kind: "sweep", seat, depthMm, angleDeg })),
    );
  const faces = (seat: Seat) => choices.face[seat].map((angleDeg): ReadingName => ({ kind: "face", seat, angleDeg }));
  const plugs = (seat: Seat): ReadingName[] => [
    ...numbers(choices.plugs).map((sizeMm): ReadingName => ({ kind: "plug", seat, sizeMm })),
    ...numbers(choices.rods).map((sizeMm): ReadingName => ({ kind: "plug", seat, sizeMm, across: true })),
  ];
  const bars = partsOf(choices.bars)
    .filter((set) => BAR_SET.test(set))
    .map((set): ReadingName => ({ kind: "bar", set }));
  const all = [
    ...SEATS.flatMap((seat) => [...bores(seat), ...faces(seat)]),
    ...SEATS.flatMap((seat) => sweeps(seat)),
    ...choices.width.map((clockDeg): ReadingName => ({ kind: "width", clockDeg })),
    ...SEATS.flatMap((seat) => plugs(seat)),
    ...bars,
  ];
  const byName = new Map(all.map((name) => [formatReadingName(name), name]));
  return [...byName.values()];
}

/** What a reading belongs to, the narrower first: a sweep at its depth before the sweeps of its seat. */
function groupsOf(name: ReadingName): readonly string[] {
  if (name.kind === "sweep") return [`sweep ${name.seat} ${name.depthMm}`, `sweep ${name.seat}`];
  return ["seat" in name ? `${name.kind} ${name.seat}` : name.kind];
}

/** Where a newly chosen reading is keyed: behind the last one that it belongs to, else at the end. */
function placeFor(name: ReadingName, order: readonly string[]): number {
  const groups = order.map((text) => readNames([text]).flatMap(groupsOf));
  for (const group of groupsOf(name)) {
    const last = groups.findLastIndex((of) => of.includes(group));
    if (last >= 0) return last + 1;
  }
  return order.length;
}

/** The readings that are there in their order, without those no longer chosen, and the newly chosen behind their like. */
export function reconcile(order: readonly string[], choices: PlanChoices): readonly string[] {
  const chosen = readingsOf(choices);
  const wanted = new Set(chosen.map(formatReadingName));
  const there = new Set(order);
  return chosen.reduce<readonly string[]>(
    (now, name) => {
      const text = formatReadingName(name);
      return there.has(text) ? now : now.toSpliced(placeFor(name, now), 0, text);
    },
    order.filter((name) => wanted.has(name)),
  );
}

const KIND_PLACE = { bore: 0, face: 1, sweep: 2, width: 3, plug: 4, bar: 5 } as const;

/**
 * The readings in one of the usual orders: all depths at a direction before the gauge is turned; all directions at a depth
 * before it is moved; or the sides in turn, reading by reading.
 */
export function inOrder(order: readonly string[], by: KeyingOrder): readonly string[] {
  const names = readNames(order);
  const seatPlace = (name: ReadingName) => ("seat" in name ? (name.seat === "ds" ? 0 : 1) : 2);
  const angle = (name: ReadingName) => {
    if (name.kind === "bore") return name.directionDeg;
    if (name.kind === "width") return name.clockDeg;
    if (name.kind === "plug") return name.sizeMm;
    return "angleDeg" in name ? name.angleDeg : 0;
  };
  const depth = (name: ReadingName) => ("depthMm" in name ? name.depthMm : 0);
  const key = (name: ReadingName): readonly number[] => {
    // An indicator stays at its depth while it goes round; only the two-point gauge has the choice.
    const within = by === "depth" || name.kind === "sweep" ? [depth(name), angle(name)] : [angle(name), depth(name)];
    // Nor does it change seats before it has been round.
    const round = name.kind === "sweep" || name.kind === "face";
    if (by === "sides" && round) return [KIND_PLACE[name.kind], seatPlace(name), ...within];
    if (by === "sides") return [KIND_PLACE[name.kind], ...within, seatPlace(name)];
    const overBoth = name.kind === "bore" || name.kind === "face" ? 0 : 1;
    const place = KIND_PLACE[name.kind];
    return overBoth === 0 ? [0, seatPlace(name), place, ...within] : [1, place, seatPlace(name), ...within];
  };
  return names
    .map((name) => ({ text: formatReadingName(name), key: key(name) }))
    .sort((a, b) => {
      const differs = a.key.findIndex((value, place) => value !== b.key[place]);
      return differs < 0 ? 0 : (a.key[differs] ?? 0) - (b.key[differs] ?? 0);
    })
    .map(({ text }) => text);
}
