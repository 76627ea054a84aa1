import type { DemoLineKey, DemoSupplier } from "./demo-plant";
import type { MeasuringState } from "./measure-shell";
import {
  withDriftingGauge,
  withKnockedFixture,
  withOvalMould,
  withPaintInBore,
  withTiredInspector,
  withWornReamer,
} from "./process-faults";
import type { ProcessState, ShellTruth } from "./shell-truth";
import { SPARE_BORE_GAUGE } from "./demo-plant";

/** Where in the plan a frame is made: its line, working days before the last one, its place in the day's batch. */
export type DemoMoment = {
  readonly line: DemoLineKey;
  readonly daysAgo: number;
  readonly place: number;
  readonly batchSize: number;
};

/** What happened in the plant, told by working days before the last one. */
export const STORY = {
  /** The reamer of line A46 is changed days late. */
  lateReamer: { line: "A46", dueDaysAgo: 24, changedDaysAgo: 20 },
  tired: { line: "A46", daysAgo: [16, 15], inspector: "tamsel" },
  paint: { line: "A46", daysAgo: 13, sampledDaysAgo: [14, 13, 12], sample: 12 },
  ovalMould: { line: "C41", daysAgo: 11, mould: "M3" },
  /** Drifts through the day and is found out at the next morning's zero check. */
  gauge: { line: "A42", driftDaysAgo: 8, foundDaysAgo: 7, driftUm: -15 },
  notMeasured: { line: "A42", daysAgo: 5, frames: 2 },
  fixture: { line: "C41", knockedDaysAgo: 4, knockedAt: 22, shimmedDaysAgo: 3, shimmedAt: 14 },
} as const;

/** Working days between reamer changes, and wear over that time, µm. */
const REAMER_DAYS: Readonly<Record<DemoLineKey, number>> = { C41: 9, A46: 8, A42: 10 };
const WEAR_UM: Readonly<Record<DemoLineKey, number>> = { C41: 2, A46: 2, A42: 0.6 };
/** A reamer that is left in for too long wears faster and faster. */
const LATE_WEAR_UM_PER_DAY = 7;

/** Days ago on which the reamer of a line is changed, before work. */
export function isReamerChange(line: DemoLineKey, daysAgo: number): boolean {
  const { lateReamer } = STORY;
  if (line === lateReamer.line) {
    if (daysAgo === lateReamer.changedDaysAgo) return true;
    if (daysAgo <= lateReamer.dueDaysAgo && daysAgo > lateReamer.changedDaysAgo) return false;
  }
  return daysAgo % REAMER_DAYS[line] === 0 && daysAgo > 0;
}

/** Working days since the reamer was changed, counted with the part of the day that has passed. */
function reamerAge({ line, daysAgo, place, batchSize }: DemoMoment): number {
  let day = daysAgo;
  while (!isReamerChange(line, day) && day < 200) day += 1;
  return day - daysAgo + place / batchSize;
}

function wearAt(moment: DemoMoment): number {
  const age = reamerAge(moment);
  const life = REAMER_DAYS[moment.line];
  const wear = WEAR_UM[moment.line] * (age / life - 0.5);
  const late = moment.line === STORY.lateReamer.line ? Math.max(0, age - life) : 0;
  return wear + LATE_WEAR_UM_PER_DAY * late;
}

/** True from the knock to the shim. */
function fixtureIsOff({ line, daysAgo, place }: DemoMoment): boolean {
  const { fixture } = STORY;
  if (line !== fixture.line) return false;
  if (daysAgo === fixture.knockedDaysAgo) return place >= fixture.knockedAt;
  return daysAgo === fixture.shimmedDaysAgo && place < fixture.shimmedAt;
}

/** The process at a moment of the story. */
export function processAt(steady: ProcessState, moment: DemoMoment): ProcessState {
  let process = withWornReamer(steady, wearAt(moment));
  if (fixtureIsOff(moment)) process = withKnockedFixture(process);
  if (moment.line === STORY.ovalMould.line && moment.daysAgo === STORY.ovalMould.daysAgo)
    process = withOvalMould(process);
  return process;
}

/** The same shell after painting: on the bad day every third one has powder in the bore. */
export function paintedShell(shell: ShellTruth, moment: DemoMoment): ShellTruth {
  return moment.daysAgo === STORY.paint.daysAgo && moment.place % 3 === 0 ? withPaintInBore(shell) : shell;
}

/** True for the second half of a tired inspector's day. */
function isTired({ line, daysAgo, place, batchSize }: DemoMoment): boolean {
  return line === STORY.tired.line && STORY.tired.daysAgo.some((day) => day === daysAgo) && place >= batchSize / 2;
}

/** What the bore gauge of line A42 shows too much at a moment, µm. */
export function gaugeDriftUm({ line, daysAgo, place, batchSize }: DemoMoment): number {
  const { gauge } = STORY;
  return line === gauge.line && daysAgo === gauge.driftDaysAgo ? gauge.driftUm * (place / batchSize) : 0;
}

/** The measuring at a moment of the story. */
export function measuringAt(steady: MeasuringState, moment: DemoMoment): MeasuringState {
  const drifted = withDriftingGauge(steady, gaugeDriftUm(moment));
  return isTired(moment) ? withTiredInspector(drifted, 6) : drifted;
}

/** The bore gauge in use: the spare one from the morning on which the other was found out. */
export function boreGaugeAt(usual: string, { line, daysAgo }: Pick<DemoMoment, "line" | "daysAgo">): string {
  return line === STORY.gauge.line && daysAgo <= STORY.gauge.foundDaysAgo ? SPARE_BORE_GAUGE.key : usual;
}

/** Who measures: the two inspectors of a line change by the week, the tired one works the days of the story. */
export function inspectorAt(line: DemoLineKey, daysAgo: number): string {
  if (line === STORY.tired.line && STORY.tired.daysAgo.some((day) => day === daysAgo)) return STORY.tired.inspector;
  const pair = { C41: ["ostrand", "quell"], A46: ["vintler", "tamsel"], A42: ["quell", "ostrand"] } as const;
  return pair[line][Math.floor(daysAgo / 6) % 2] ?? pair[line][0];
}

/** Supplier of a day's batch. */
export function supplierAt(line: DemoLineKey, daysAgo: number): DemoSupplier["key"] {
  if (line !== "C41") return "BT";
  return daysAgo % 3 === 1 && daysAgo !== STORY.ovalMould.daysAgo ? "OC" : "PM";
}

/** Mould of a frame; metal shells have none. */
export function mouldAt(moment: DemoMoment): string | null {
  if (moment.line !== "C41") return null;
  if (moment.daysAgo === STORY.ovalMould.daysAgo) return STORY.ovalMould.mould;
  return supplierAt("C41", moment.daysAgo) === "OC" ? "O1" : `M${(moment.daysAgo % 2) + 1}`;
}

/** True for a frame that was forgotten. */
export function isForgotten({ line, daysAgo, place }: DemoMoment): boolean {
  return line === STORY.notMeasured.line && daysAgo === STORY.notMeasured.daysAgo && place < STORY.notMeasured.frames;
}
