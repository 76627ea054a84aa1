import type { CompiledMeasurement, CoveredCharacteristic, FrameMeasurement } from "../core/metrology/measure-frame";
import { type FeltSide, feltSubjectOf } from "../core/metrology/felt-subject";
import { zoneOfTiltUm } from "../core/metrology/felt-coverage";
import { plugEvidence, type PlugEvidence, USUAL_PLUG_FEEL } from "../core/metrology/plug-evidence";
import { formatReadingName, type ReadingName, type Seat } from "../core/metrology/reading-name";
import {
  type Characteristic,
  CHARACTERISTIC_NAMES,
  CHARACTERISTIC_UNIT,
  type CharacteristicName,
  type ShellDrawing,
} from "../core/metrology/shell-drawing";
import {
  type AlignmentBounds,
  type BarBounds,
  barBounds,
  contradictingBars,
  seatBounds,
  tiltOfBars,
  unknownBars,
  zoneOfBars,
} from "./felt-bounds";
import type { Felt } from "./felt-evidence";
import { type FeltSides, isFeltContradiction } from "./felt-sides";
import type { FeltReason } from "./felt-reason";
import { alwaysHoldsBy, doubtedVerdict, type JudgedCharacteristic } from "./judge-frame";
import type { DoubtCode, JudgingDoubt } from "./judging-doubt";
import type { Verdict } from "./verdict-words";

type Judging = {
  readonly drawing: ShellDrawing;
  readonly compiled: CompiledMeasurement;
  readonly measurement: FrameMeasurement;
  readonly felt: Felt;
  readonly doubts: readonly JudgingDoubt[];
  readonly sides?: FeltSides;
};

const SEATS = ["ds", "nds"] as const;
const PLUG_U_MM = USUAL_PLUG_FEEL.plugUncertaintyUm / 1000;

/** What of a reason goes beside the verdict; a reason that always holds makes the characteristic critical here. */
function said(reason: FeltReason, code: DoubtCode): Pick<JudgedCharacteristic, "reason" | "code"> {
  return { reason, code };
}

function notProven(judged: JudgedCharacteristic, reason: FeltReason, code: DoubtCode): JudgedCharacteristic {
  return { ...judged, verdict: "not proven", critical: true, alwaysHolds: true, ...said(reason, code) };
}

function breaks(judged: JudgedCharacteristic, reason: FeltReason): JudgedCharacteristic {
  return { ...judged, verdict: "does not conform", ...said(reason, "felt-breaks-limit") };
}

/** Labels of the plan's trials of one kind that have no answer. */
function unanswered({ compiled, felt }: Judging, isDue: (name: ReadingName) => boolean): string[] {
  const answered = new Set([
    ...SEATS.flatMap((seat) =>
      (felt.plugs?.[seat] ?? []).map(({ sizeMm, across }) =>
        formatReadingName({ kind: "plug", seat, sizeMm, ...(across === true ? { across } : {}) }),
      ),
    ),
    ...(felt.bars ?? []).map(({ set }) => formatReadingName({ kind: "bar", set })),
  ]);
  return compiled.names.flatMap((name, index) => {
    const label = compiled.labels[index] ?? "";
    return isDue(name) && !answered.has(label) ? [label] : [];
  });
}

/** A characteristic as the plan's trials alone would leave it: nothing found yet. */
function empty(limits: Characteristic, seat: Seat | null, uncertainty: number): JudgedCharacteristic {
  const { name, lower, upper, critical } = limits;
  const unit = CHARACTERISTIC_UNIT[name];
  return { name, seat, value: null, unit, lower, upper, uncertainty, verdict: "not measured", critical, at: null };
}

/** What a characteristic is worth that no reading gives: its bounds against its limits, and what is doubted of the gauges. */
function byBounds(
  judging: Judging,
  judged: JudgedCharacteristic,
  found: {
    readonly bounds: NonNullable<JudgedCharacteristic["bounds"]>;
    readonly verdict: Verdict;
    readonly missing: readonly string[];
    readonly reason: FeltReason;
  },
): JudgedCharacteristic {
  const bounded: JudgedCharacteristic = {
    ...judged,
    value: null,
    bounds: found.bounds,
    verdict: found.verdict,
    ...said(found.reason, found.verdict === "does not conform" ? "felt-breaks-limit" : "felt-bounds"),
  };
  const { verdict, doubt } = doubtedVerdict(bounded.verdict, bounded, judging.doubts);
  if (doubt !== null)
    return {
      ...bounded,
      verdict,
      reason: doubt.reason,
      code: doubt.code,
      ...(alwaysHoldsBy(doubt, found.verdict) ? { alwaysHolds: true as const } : {}),
    };
  if (found.missing.length === 0 || found.verdict === "does not conform") return bounded;
  return {
    ...bounded,
    verdict: "not measured",
    ...said({ code: "trials-missing", labels: found.missing }, "felt-missing"),
  };
}

/** Trials that a plan asks for and nobody answered leave undone what the readings would have said. */
function withMissing(judged: JudgedCharacteristic, missing: readonly string[]): JudgedCharacteristic {
  if (missing.length === 0 || judged.verdict === "does not conform" || judged.verdict === "not measured") return judged;
  return { ...judged, verdict: "not measured", ...said({ code: "trials-missing", labels: missing }, "felt-missing") };
}

function plugContradiction(seat: Seat, { findings }: PlugEvidence): FeltReason | null {
  for (const finding of findings) {
    if (finding.code === "plugs-contradict")
      return { code: "plugs-contradict", seat, leastMm: finding.leastMm, mostMm: finding.mostMm };
    if (finding.code === "gauge-problem") return { ...finding, code: "plug-contradicts-reading", seat };
  }
  return null;
}

function limitsOf(drawing: ShellDrawing, name: CharacteristicName): Characteristic | null {
  return drawing.characteristics.find((one) => one.name === name) ?? null;
}

/** The size of one seat with what its plugs say of it; null where there is neither. */
function judgeSize(judging: Judging, seat: Seat, judged: JudgedCharacteristic | null): JudgedCharacteristic | null {
  const { drawing, compiled, measurement, felt } = judging;
  const trials = felt.plugs?.[seat] ?? [];
  const missing = unanswered(judging, (name) => name.kind === "plug" && name.seat === seat);
  const limits = limitsOf(drawing, "bore");
  if (limits === null || (trials.length === 0 && missing.length === 0)) return judged;
  const covered = compiled.covered.find((one) => one.name === "bore" && one.seat === seat);
  const isRead = covered !== undefined && covered.felt !== true;
  const bore = isRead ? measurement.bores[seat] : null;
  const read = bore === null ? null : { ...bore, uncertaintyMm: covered?.uncertainty ?? 0 };
  const evidence = plugEvidence(trials, read);
  // Where the bounds are all there is, U carries what the temperature adds.
  const plugU = covered?.felt === true ? covered.uncertainty : PLUG_U_MM;
  const bounds = seatBounds(evidence.bounds, drawing, limits, plugU);
  const { least, most, smallestMost, largestLeast } = bounds;
  const shown = { least, most, smallestMost, largestLeast };
  const base = judged ?? empty(limits, seat, PLUG_U_MM);
  const contradiction = plugContradiction(seat, evidence);
  if (contradiction !== null)
    return base.verdict === "not measured" && isRead ? base : notProven(base, contradiction, "felt-contradicts");
  const reason: FeltReason = { code: "plug-bounds", seat, bounds, limits, plugUm: plugU * 1000 };
  const doesEnterNot = limits.lower !== null && (evidence.bounds.mostMm ?? Infinity) <= limits.lower;
  const isRejected =
    bounds.broken !== null ||
    doesEnterNot ||
    (limits.upper !== null &&
      Math.max(evidence.bounds.leastMm ?? 0, evidence.bounds.across.leastMm ?? 0) > limits.upper);
  if (covered === undefined) {
    // Tried beside the plan: what it finds counts, what it leaves open was not asked for.
    if (bounds.broken !== null) return breaks({ ...base, bounds: shown }, reason);
    return isRejected ? notProven({ ...base, bounds: shown }, reason, "felt-reject") : judged;
  }
  if (!isRead) return byBounds(judging, base, { bounds: shown, verdict: bounds.verdict, missing, reason });
  if (bounds.broken !== null && (bore === null || isBeyond(bore, limits, bounds.broken)))
    return base.verdict === "does not conform" ? base : breaks(base, reason);
  if (isRejected && (base.verdict === "conforms" || base.verdict === "not proven"))
    return notProven(base, reason, "felt-reject");
  return withMissing(base, missing);
}

function isBeyond(
  bore: { readonly smallestMm: number; readonly largestMm: number },
  { lower, upper }: Characteristic,
  broken: "lower" | "upper",
): boolean {
  return broken === "lower" ? bore.smallestMm < (lower ?? -Infinity) : bore.largestMm > (upper ?? Infinity);
}

/** A bar that the sweep's tilts contradict beyond both U, for the seats that it concerns; null where none does. */
function barContradiction(
  bars: readonly BarBounds[],
  tilts: Readonly<Record<Seat, { readonly arcmin: number; readonly uncertaintyArcmin: number }>>,
  seat: Seat,
): FeltReason | null {
  const worse = tilts.ds.arcmin >= tilts.nds.arcmin ? tilts.ds : tilts.nds;
  for (const bar of bars) {
    const short = bar.leastArcmin - bar.uncertaintyArcmin - worse.arcmin - worse.uncertaintyArcmin;
    if (short > 0)
      return { code: "bar-contradicts-reading", bar, read: { value: worse.arcmin, unit: "arcmin" }, beyond: short };
    if (bar.mostArcmin === null) continue;
    const { arcmin, uncertaintyArcmin } = tilts[seat];
    const over = arcmin - uncertaintyArcmin - bar.mostArcmin - bar.uncertaintyArcmin;
    if (over > 0)
      return { code: "bar-contradicts-reading", bar, read: { value: arcmin, unit: "arcmin" }, beyond: over };
  }
  return null;
}

function zoneContradiction(
  bars: readonly BarBounds[],
  drawing: ShellDrawing,
  zoneUm: number,
  uncertaintyUm: number,
): FeltReason | null {
  for (const bar of bars) {
    if (bar.mostArcmin === null) continue;
    const over =
      zoneUm - uncertaintyUm - zoneOfTiltUm(drawing, bar.mostArcmin) - zoneOfTiltUm(drawing, bar.uncertaintyArcmin);
    if (over > 0) return { code: "bar-contradicts-reading", bar, read: { value: zoneUm, unit: "µm" }, beyond: over };
  }
  return null;
}

/** The bar of the most clearance that was tried, where it does not pass: no wider one has passed. */
function rejectingBar(bars: readonly BarBounds[]): BarBounds | null {
  const [widest] = [...bars].sort((a, b) => b.clearanceUm - a.clearanceUm);
  return widest?.result === "will not pass" ? widest : null;
}

type AlignmentCase = {
  readonly name: "tilt" | "coaxiality";
  readonly limits: Characteristic;
  readonly bars: readonly BarBounds[];
  readonly bounds: AlignmentBounds;
  readonly missing: readonly string[];
};

/** Tilt of one seat, or coaxiality, with what the bar says of it; null where there is neither. */
function judgeAlignment(
  judging: Judging,
  seat: Seat,
  judged: JudgedCharacteristic | null,
  { name, limits, bars, bounds, missing }: AlignmentCase,
): JudgedCharacteristic | null {
  const covered = judging.compiled.covered.find((one) => one.name === name && one.seat === seat);
  // Coaxiality is that of one seat to the other: of a seat that nothing in the plan gives it of, there is nothing to doubt.
  if (covered === undefined && name === "coaxiality") return judged;
  const arcmin = bars[0]?.uncertaintyArcmin ?? 0;
  const base = judged ?? empty(limits, seat, name === "tilt" ? arcmin : zoneOfTiltUm(judging.drawing, arcmin));
  const shown = { least: bounds.least, most: bounds.most };
  const against = contradictingBars(bars);
  if (against !== null) return notProven(base, { code: "bars-contradict", bars: against }, "felt-contradicts");
  const reason: FeltReason = { code: "bar-bounds", name, bars, bounds, limits };
  const rejecting = rejectingBar(bars);
  if (covered === undefined) {
    if (bounds.verdict === "does not conform") return breaks({ ...base, bounds: shown }, reason);
    return rejecting === null ? judged : notProven({ ...base, bounds: shown }, reason, "felt-reject");
  }
  if (covered.felt === true)
    return byBounds(judging, base, { bounds: shown, verdict: bounds.verdict, missing, reason });
  const contradiction = readContradiction(judging, { name, bars, seat, covered });
  if (contradiction !== null && base.verdict !== "not measured")
    return notProven(base, contradiction, "felt-contradicts");
  if (name === "coaxiality") return limitsOf(judging.drawing, "tilt") === null ? withMissing(base, missing) : base;
  if (bounds.verdict === "does not conform" && (base.value === null || base.value > (limits.upper ?? Infinity)))
    return base.verdict === "does not conform" ? base : breaks(base, reason);
  const isOpen = base.verdict === "conforms" || base.verdict === "not proven";
  if (isOpen && (rejecting !== null || bounds.verdict === "does not conform") && !otherSeatFails(judging, seat, limits))
    return notProven(base, reason, "felt-reject");
  return withMissing(base, missing);
}

/**
 * What bars of sets that nobody knows leave of a characteristic: where nothing but bars gives it, they prove nothing, unless a known
 * one does; one that does not pass is a reject, whatever its sizes.
 */
function withUnknownBars(
  { compiled, felt }: Judging,
  seat: Seat,
  { name, limits }: Pick<AlignmentCase, "name" | "limits">,
  judged: JudgedCharacteristic | null,
): JudgedCharacteristic | null {
  const unknown = unknownBars(felt.bars ?? []);
  if (unknown.length === 0) return judged;
  const reason: FeltReason = { code: "unknown-set", sets: unknown.map(({ set }) => set) };
  const isReject = unknown.some(({ result }) => result === "no");
  const covered = compiled.covered.find((one) => one.name === name && one.seat === seat);
  if (judged === null)
    return isReject && name === "tilt" ? notProven(empty(limits, seat, 0), reason, "felt-unknown-set") : null;
  const isOpen = judged.verdict === "not proven" && judged.code === "felt-bounds" && covered?.felt === true;
  const isRejected = isReject && (judged.verdict === "conforms" || judged.verdict === "not proven");
  return isOpen || isRejected ? notProven(judged, reason, "felt-unknown-set") : judged;
}

/** The bar says that a seat is out of line; where the readings have found it, the other one is as they say. */
function otherSeatFails({ measurement }: Judging, seat: Seat, { upper }: Characteristic): boolean {
  const other = measurement.features[seat === "ds" ? "nds.tilt" : "ds.tilt"].value;
  return other !== null && upper !== null && other > upper;
}

function readContradiction(
  { compiled, drawing, measurement }: Judging,
  one: {
    readonly name: "tilt" | "coaxiality";
    readonly bars: readonly BarBounds[];
    readonly seat: Seat;
    readonly covered: CoveredCharacteristic;
  },
): FeltReason | null {
  if (one.name === "coaxiality") {
    const zone = measurement.swept.find(({ swept }) => swept === one.seat)?.zoneUm ?? null;
    return zone === null ? null : zoneContradiction(one.bars, drawing, zone, one.covered.uncertainty);
  }
  const tiltOf = (seat: Seat) => {
    const arcmin = measurement.features[`${seat}.tilt`].value;
    const uncertainty = compiled.covered.find(({ name, seat: of }) => name === "tilt" && of === seat)?.uncertainty;
    return arcmin === null || uncertainty === undefined ? null : { arcmin, uncertaintyArcmin: uncertainty };
  };
  const [ds, nds] = [tiltOf("ds"), tiltOf("nds")];
  return ds === null || nds === null ? null : barContradiction(one.bars, { ds, nds }, one.seat);
}

/** What the plugs alone say of a seat's size; null where they contradict each other. */
function sizeByPlugs(judging: Judging, seat: Seat, limits: Characteristic): JudgedCharacteristic | null {
  const evidence = plugEvidence(judging.felt.plugs?.[seat] ?? [], null);
  if (plugContradiction(seat, evidence) !== null) return null;
  const bounds = seatBounds(evidence.bounds, judging.drawing, limits, PLUG_U_MM);
  const { least, most, smallestMost, largestLeast, verdict } = bounds;
  const reason: FeltReason = { code: "plug-bounds", seat, bounds, limits, plugUm: PLUG_U_MM * 1000 };
  const shown = { least, most, smallestMost, largestLeast };
  const missing = unanswered(judging, (name) => name.kind === "plug" && name.seat === seat);
  return byBounds(judging, empty(limits, seat, PLUG_U_MM), { bounds: shown, verdict, missing, reason });
}

/** What the bars alone say of tilt or coaxiality; null where they contradict each other. */
function alignmentByBars(judging: Judging, judged: JudgedCharacteristic): JudgedCharacteristic | null {
  const { drawing, felt } = judging;
  const { name, seat } = judged;
  const bars = barBounds(felt.bars ?? []);
  const limits = limitsOf(drawing, name);
  if (contradictingBars(bars) !== null || (name !== "tilt" && name !== "coaxiality")) return null;
  // A drawing without a limit of tilt: the bar's rejection is all there is.
  if (limits === null) return { ...judged, code: "felt-bounds" };
  const bounds = name === "tilt" ? tiltOfBars(bars, drawing, limits) : zoneOfBars(bars, drawing, limits);
  const arcmin = bars[0]?.uncertaintyArcmin ?? 0;
  const uncertainty = name === "tilt" ? arcmin : zoneOfTiltUm(drawing, arcmin);
  const reason: FeltReason = { code: "bar-bounds", name, bars, bounds, limits };
  const { least, most, verdict } = bounds;
  const missing = unanswered(judging, ({ kind }) => kind === "bar");
  return byBounds(judging, empty(limits, seat, uncertainty), { bounds: { least, most }, verdict, missing, reason });
}

/**
 * A contradiction as it is decided: by the readings alone, or by the bounds of what was felt alone. Stays a contradiction where
 * the side that counts says nothing: nothing was read, or the plugs contradict one another. What the felt side does not prove
 * holds as before.
 */
function bySide(
  judging: Judging,
  judged: JudgedCharacteristic,
  side: FeltSide,
  byNumbers: JudgedCharacteristic | undefined,
): JudgedCharacteristic | null {
  if (side === "readings") {
    if (byNumbers !== undefined) return byNumbers.value === null ? judged : byNumbers;
    const isRead = judging.compiled.covered.some((one) => feltSubjectOf(one) === "bar" && one.felt !== true);
    return judged.name === "tilt" && judged.seat === null && isRead ? null : judged;
  }
  const { name, seat } = judged;
  const limits = limitsOf(judging.drawing, name);
  const found =
    name === "bore" && seat !== null && limits !== null
      ? sizeByPlugs(judging, seat, limits)
      : alignmentByBars(judging, judged);
  if (found === null) return judged;
  return found.verdict === "conforms" ? found : { ...found, critical: true, alwaysHolds: true };
}

/**
 * Verdicts with what was felt: plugs and bar against the readings, and alone where there are none (common practice, no source).
 * A contradiction beyond both U is not proven and always holds; a limit that both sides, or the bounds alone, show broken does
 * not conform; a gauge that rejects never leaves *conforms*. Where a plan has no readings of a characteristic, the bounds are
 * judged against the limits. Otherwise everything is as by numbers. Where a side of a contradiction was decided for, it alone
 * is judged.
 *
 * @param judging - of one inspection; `felt` null where nothing was tried
 * @param characteristics - judged by numbers, in the order of the drawing
 * @returns the amended list, in the same order, with what was found beside the plan
 */
export function judgeFelt(
  judging: Omit<Judging, "felt"> & { readonly felt: Felt | null },
  characteristics: readonly JudgedCharacteristic[],
): readonly JudgedCharacteristic[] {
  const { drawing, compiled } = judging;
  if (judging.felt === null && compiled.felt.length === 0) return characteristics;
  const one: Judging = { ...judging, felt: judging.felt ?? {} };
  const bars = barBounds(one.felt.bars ?? []);
  const missing = unanswered(one, ({ kind }) => kind === "bar");
  const amended = new Map(characteristics.map((judged) => [keyOf(judged.name, judged.seat), judged]));
  const amend = (
    name: CharacteristicName,
    seat: Seat,
    by: (judged: JudgedCharacteristic | null) => JudgedCharacteristic | null,
  ): void => {
    const key = keyOf(name, seat);
    const judged = by(amended.get(key) ?? null);
    if (judged !== null) amended.set(key, judged);
  };
  for (const seat of SEATS) amend("bore", seat, (judged) => judgeSize(one, seat, judged));
  const unknown = unknownBars(one.felt.bars ?? []);
  if (bars.length > 0 || unknown.length > 0 || missing.length > 0) {
    const zone = limitsOf(drawing, "coaxiality");
    const tilt = limitsOf(drawing, "tilt");
    for (const seat of SEATS) {
      if (zone !== null) {
        const bounds = zoneOfBars(bars, drawing, zone);
        const asked: AlignmentCase = { name: "coaxiality", limits: zone, bars, bounds, missing };
        amend("coaxiality", seat, (judged) =>
          withUnknownBars(one, seat, asked, judgeAlignment(one, seat, judged, asked)),
        );
      }
      if (tilt !== null) {
        const bounds = tiltOfBars(bars, drawing, tilt);
        const asked: AlignmentCase = { name: "tilt", limits: tilt, bars, bounds, missing };
        amend("tilt", seat, (judged) => withUnknownBars(one, seat, asked, judgeAlignment(one, seat, judged, asked)));
      }
    }
    const rejecting = rejectingBar(bars);
    const isUnknownReject = rejecting === null && unknown.some(({ result }) => result === "no");
    if (tilt === null && (rejecting !== null || isUnknownReject)) {
      const none: Characteristic = {
        name: "tilt",
        lower: null,
        upper: null,
        target: null,
        critical: true,
        uncertainty: 0,
      };
      const bounds = tiltOfBars(bars, drawing, none);
      const reason: FeltReason = isUnknownReject
        ? { code: "unknown-set", sets: unknown.map(({ set }) => set) }
        : { code: "bar-bounds", name: "tilt", bars, bounds, limits: none };
      const code = isUnknownReject ? "felt-unknown-set" : "felt-reject";
      amended.set(keyOf("tilt", null), notProven(empty(none, null, 0), reason, code));
    }
  }
  for (const [key, judged] of amended) {
    const subject = feltSubjectOf(judged);
    const side = subject === null ? undefined : judging.sides?.[subject];
    if (side === undefined || !isFeltContradiction(judged.code)) continue;
    const byNumbers = characteristics.find((each) => keyOf(each.name, each.seat) === key);
    const decided = bySide(one, judged, side, byNumbers);
    if (decided === null) amended.delete(key);
    else amended.set(key, decided);
  }
  return [...amended.values()].sort(
    (a, b) => CHARACTERISTIC_NAMES.indexOf(a.name) - CHARACTERISTIC_NAMES.indexOf(b.name),
  );
}

function keyOf(name: CharacteristicName, seat: Seat | null): string {
  return `${name} ${seat ?? ""}`;
}
