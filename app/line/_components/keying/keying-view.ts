import type { CompiledMeasurement, FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import { READING_UNIT, type ReadingKind, type ReadingName, type Seat } from "@/lib/core/metrology/reading-name";
import { CHARACTERISTIC_UNIT, type CharacteristicName, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { ClockMark } from "@/lib/charts/clock-layout";
import type { SectionState } from "@/lib/charts/shell-section";
import { angleSeenFrom, formatClockSeenFrom, formatDirection, formatOclock, formatSeat } from "@/lib/format/clock-text";
import {
  type DecimalSign,
  formatFixed,
  formatLimits,
  formatSizeMm,
  formatUm,
  formatValue,
} from "@/lib/format/number-text";
import { formatDepth, formatFelt, formatPlugSize } from "@/lib/format/reading-text";
import type { KeptReading } from "@/lib/offline/device/keying-session";
import { judgeReading } from "@/lib/quality/judge-reading";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { ReadingRow } from "@/lib/ui/reading-table";
import type { SeatRemark } from "@/lib/ui/shell-drawing";
import { KIND_WORDS } from "../parts/kind-words";
import { KEYING_WORDS } from "../../words/keying";

const words = KEYING_WORDS.view;

/** What the screen of one frame is made of. */
export type KeyingView = {
  readonly drawing: ShellDrawing;
  readonly names: readonly ReadingName[];
  readonly readings: readonly (KeptReading | null)[];
  readonly asked: number | null;
  readonly side: Seat;
  readonly decimal: DecimalSign;
  readonly compiled: CompiledMeasurement;
  readonly measurement: FrameMeasurement;
};

/** Verdict of one size by itself; null where one reading decides nothing. */
export function verdictOf(view: KeyingView, index: number): Verdict | null {
  const name = view.names[index];
  const value = view.readings[index]?.value ?? null;
  const state = view.readings[index]?.state;
  if (state === "off-scale-large" || state === "off-scale-small") return "does not conform";
  return name === undefined || value === null ? null : judgeReading(view.drawing, name, value).verdict;
}

/** A kept value as it stands in the table. */
export function keptText(view: KeyingView, index: number): string | null {
  const reading = view.readings[index];
  const name = view.names[index];
  return !reading || !name ? null : readingText(view, name, reading);
}

/** A value, or its word, of a reading: kept already or about to be. */
export function readingText(
  view: Pick<KeyingView, "side" | "decimal">,
  name: ReadingName,
  reading: KeptReading,
): string | null {
  if (reading.state === "cannot") return "cannot";
  if (reading.state === "off-scale-large") return words.tooLarge;
  if (reading.state === "off-scale-small") return words.tooSmall;
  if (reading.word !== null) return formatFelt(reading.word, name, view.side);
  if (reading.value === null) return null;
  if (READING_UNIT[name.kind] === "mm")
    return formatSizeMm(reading.value, name.kind === "width" ? 0.01 : 0.001, view.decimal);
  return formatFixed(reading.value, Number.isInteger(reading.value) ? 0 : 1, view.decimal);
}

/** Sections of the bores, with what is taken and their means. */
export function sectionsOf({ names, readings, measurement }: KeyingView): SectionState[] {
  const sections = new Map<string, { seat: Seat; depthMm: number; taken: number; planned: number }>();
  names.forEach((name, index) => {
    if (name.kind !== "bore") return;
    const key = `${name.seat} ${name.depthMm}`;
    const section = sections.get(key) ?? { seat: name.seat, depthMm: name.depthMm, taken: 0, planned: 0 };
    sections.set(key, {
      ...section,
      planned: section.planned + 1,
      taken: section.taken + (readings[index] ? 1 : 0),
    });
  });
  return [...sections.values()].map((section) => ({
    ...section,
    meanMm:
      section.taken < section.planned
        ? null
        : (measurement.bores[section.seat]?.sections.find((one) => one.depthMm === section.depthMm)?.meanMm ?? null),
  }));
}

function sameGroup(a: ReadingName, b: ReadingName): boolean {
  if (a.kind !== b.kind) return false;
  if ("seat" in a && "seat" in b && a.seat !== b.seat) return false;
  return !("depthMm" in a) || !("depthMm" in b) || a.depthMm === b.depthMm;
}

/** Directions and positions of the asked section on the clock, with the values read. */
export function marksOf(view: KeyingView): ClockMark[] {
  const { names, readings, asked } = view;
  const at = asked === null ? undefined : names[asked];
  if (asked === null || at === undefined || at.kind === "plug" || at.kind === "bar") return [];
  return names.flatMap((name, index): ClockMark[] => {
    if (!sameGroup(name, at) || name.kind === "plug" || name.kind === "bar") return [];
    const angleDeg =
      name.kind === "bore" ? name.directionDeg : name.kind === "width" ? name.clockDeg : name.angleDeg % 360;
    const text = keptText(view, index);
    const state = index === asked ? "asked" : readings[index] ? "read" : "to come";
    return [
      {
        angleDeg,
        span: name.kind === "bore" ? "diameter" : "position",
        state,
        ...(text === null || state === "asked" ? {} : { text }),
      },
    ];
  });
}

/** "8 of 8 conform" under each seat's name; the worst word leads. */
export function remarksOf(view: KeyingView): Partial<Record<Seat, SeatRemark>> {
  const remarks: Partial<Record<Seat, SeatRemark>> = {};
  for (const seat of ["ds", "nds"] as const) {
    const verdicts = view.names.flatMap((name, index) =>
      name.kind === "bore" && name.seat === seat ? [verdictOf(view, index)] : [],
    );
    const taken = verdicts.filter((verdict) => verdict !== null);
    if (taken.length === 0) continue;
    const bad = taken.filter((verdict) => verdict === "does not conform").length;
    const doubtful = taken.filter((verdict) => verdict === "not proven").length;
    const good = taken.length - bad - doubtful;
    remarks[seat] =
      bad > 0
        ? { state: "does not conform", text: words.notConform(bad, bad === 1 ? words.does : words.do) }
        : doubtful > 0
          ? { state: "not proven", text: words.notProven(doubtful) }
          : { state: "conforms", text: words.ofConform(good, verdicts.length) };
  }
  return remarks;
}

export type ReadingGrid = {
  readonly caption: string;
  readonly columns: readonly string[];
  readonly featureColumns: readonly string[];
  readonly rows: readonly ReadingRow[];
};

function columnOf(view: KeyingView, name: ReadingName): { readonly key: number; readonly text: string } {
  switch (name.kind) {
    case "bore":
      return {
        key: angleSeenFrom(name.directionDeg, view.side) % 180,
        text: formatDirection(name.directionDeg, view.side),
      };
    case "sweep":
    case "face":
      return name.angleDeg === 360
        ? { key: 360, text: words.closing }
        : { key: angleSeenFrom(name.angleDeg, view.side), text: formatClockSeenFrom(name.angleDeg, view.side) };
    case "width":
      return { key: angleSeenFrom(name.clockDeg, view.side), text: formatClockSeenFrom(name.clockDeg, view.side) };
    case "plug":
      return name.across === true
        ? { key: 1000 + name.sizeMm, text: words.rod(formatPlugSize(name.sizeMm, view.decimal)) }
        : { key: name.sizeMm, text: formatPlugSize(name.sizeMm, view.decimal) };
    case "bar":
      return { key: 0, text: words.bar(name.set) };
  }
}

function rowOf(
  view: KeyingView,
  name: ReadingName,
): { readonly key: string; readonly head: string; readonly sub?: string } {
  switch (name.kind) {
    case "bore":
    case "sweep":
      return {
        key: `${name.seat} ${name.depthMm}`,
        head: formatSeat(name.seat),
        sub: formatDepth(name.depthMm, view.decimal),
      };
    case "face":
    case "plug":
      return { key: name.seat, head: formatSeat(name.seat), sub: name.kind === "face" ? "face" : "plug" };
    case "width":
      return { key: "width", head: "Width", sub: "mm" };
    case "bar":
      return { key: "bar", head: "Bar" };
  }
}

const FEATURE_COLUMNS: Readonly<Record<ReadingKind, readonly string[]>> = {
  bore: [words.meanSizeMm, "ovality"],
  sweep: ["offset", "towards"],
  face: ["run-out"],
  width: [words.meanWidthMm],
  plug: [],
  bar: [],
};

function featuresOf(view: KeyingView, first: ReadingName): (string | null)[] {
  const { measurement, side, decimal } = view;
  switch (first.kind) {
    case "bore": {
      const section = measurement.bores[first.seat]?.sections.find((one) => one.depthMm === first.depthMm);
      if (!section) return [null, null];
      return [
        formatSizeMm(section.meanMm, 0.001, decimal),
        section.ovalityUm === null ? null : formatUm(section.ovalityUm, 0, decimal),
      ];
    }
    case "sweep": {
      const fit = measurement.swept
        .find((one) => one.swept === first.seat)
        ?.sections.find((one) => one.depthMm === first.depthMm)?.fit;
      if (!fit) return [null, null];
      const offset = formatUm(fit.offsetUm, 0, decimal);
      // An offset that is shown as zero points nowhere.
      return [offset, /[1-9]/.test(offset) ? formatOclock(fit.offsetPositionDeg, side) : "–"];
    }
    case "face": {
      const face = measurement.faces[first.seat];
      return [face === null ? null : formatUm(face.runOutUm, 0, decimal)];
    }
    case "width":
      return [measurement.width === null ? null : formatSizeMm(measurement.width.meanMm, 0.01, decimal)];
    default:
      return [];
  }
}

/** The readings of one kind as a table: a row a section, a column a direction, features where they can be computed. */
export function gridOf(view: KeyingView, kind: ReadingKind): ReadingGrid {
  const { names, readings, asked } = view;
  const own = names.flatMap((name, index) => (name.kind === kind ? [{ name, index }] : []));
  const columns = [...new Map(own.map(({ name }) => [columnOf(view, name).key, columnOf(view, name).text]))].sort(
    ([a], [b]) => a - b,
  );
  const rowKeys = [...new Set(own.map(({ name }) => rowOf(view, name).key))];
  return {
    caption: words.soFar(KIND_WORDS[kind]),
    columns: columns.map(([, text]) => text),
    featureColumns: FEATURE_COLUMNS[kind],
    rows: rowKeys.map((rowKey) => {
      const members = own.filter(({ name }) => rowOf(view, name).key === rowKey);
      const first = members[0]?.name;
      const head = first === undefined ? { key: rowKey, head: "" } : rowOf(view, first);
      const complete = members.every(({ index }) => (readings[index]?.value ?? null) !== null);
      return {
        ...head,
        cells: columns.map(([key, text]) => {
          const member = members.find(({ name }) => columnOf(view, name).key === key);
          if (!member) return { key: `none ${rowKey} ${text}`, text: null, note: "–" };
          const verdict = verdictOf(view, member.index);
          return {
            key: String(member.index),
            text: keptText(view, member.index),
            asked: member.index === asked,
            ...(verdict === null ? {} : { verdict }),
          };
        }),
        features: first !== undefined && complete ? featuresOf(view, first) : FEATURE_COLUMNS[kind].map(() => null),
      };
    }),
  };
}

/** How much of each kind is keyed. */
export function countsOf({ names, readings }: KeyingView): { kind: ReadingKind; taken: number; planned: number }[] {
  const kinds = [...new Set(names.map((name) => name.kind))];
  return kinds.map((kind) => ({
    kind,
    planned: names.filter((name) => name.kind === kind).length,
    taken: names.filter((name, index) => name.kind === kind && readings[index]).length,
  }));
}

/** Limits of the characteristic that a single reading of this kind has. */
export function limitsOf(drawing: ShellDrawing, kind: ReadingKind) {
  return kind === "bore" || kind === "width"
    ? drawing.characteristics.find((candidate) => candidate.name === kind)
    : undefined;
}

/** What a reading of each kind serves first. */
const SERVED = {
  bore: "bore",
  sweep: "coaxiality",
  face: "face run-out",
  width: "width",
  plug: "bore",
  bar: "tilt",
} as const satisfies Record<ReadingKind, CharacteristicName>;

/** The limit that a reading of a kind is measured for, with its name. */
export function limitCell(
  drawing: ShellDrawing,
  kind: ReadingKind,
  decimal: DecimalSign,
): { readonly label: string; readonly value: string } {
  const name = SERVED[kind];
  const limits = drawing.characteristics.find((candidate) => candidate.name === name);
  const unit = CHARACTERISTIC_UNIT[name];
  const digits = unit === "mm" ? undefined : 0;
  const label = name === "bore" ? words.seatLimits : name === "width" ? words.shellWidthLimits : words.limit(name);
  return {
    label,
    value: limits === undefined ? "none" : formatLimits(limits.lower, limits.upper, unit, { digits, decimal }),
  };
}

/** U (k = 2) in words, of the characteristic that the asked reading serves. */
export function uncertaintyText(
  view: Pick<KeyingView, "compiled" | "decimal">,
  kind: ReadingKind,
  seat: Seat | null,
): string {
  const found = view.compiled.covered.find(
    (one) => one.name === SERVED[kind] && (one.seat === null || seat === null || one.seat === seat),
  );
  if (!found || kind === "plug" || kind === "bar") return words.noneStated;
  return kind === "bore" || kind === "width"
    ? `±${formatUm(found.uncertainty * 1000, 1, view.decimal)}`
    : `±${formatValue(found.uncertainty, "µm", { digits: 1, decimal: view.decimal })}`;
}
