import { toDecimals } from "@/lib/core/numerics/decimal-digits";
import { fullPlan, plugsAndBarPlan, routinePlan } from "../core/metrology/measuring-plan";
import { formatReadingName, type ReadingName } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { createSeededGenerator, type SeededGenerator } from "../core/numerics/seeded-generator";
import { findDemonstrationDrawing } from "../quality/demonstration-drawings";
import {
  DEMO_GAUGES,
  DEMO_LINES,
  DEMO_OPERATIONS,
  DEMO_PEOPLE,
  DEMO_PLANT,
  DEMO_RINGS,
  DEMO_STATIONS,
  DEMO_SUPPLIERS,
  type DemoGauge,
  type DemoGaugeKind,
  type DemoLine,
  type DemoLineKey,
  type DemoOperation,
  type DemoPerson,
  type DemoRing,
  type DemoStation,
  type DemoSupplier,
} from "./demo-plant";
import {
  boreGaugeAt,
  type DemoMoment,
  gaugeDriftUm,
  inspectorAt,
  isForgotten,
  isReamerChange,
  measuringAt,
  mouldAt,
  paintedShell,
  processAt,
  STORY,
  supplierAt,
} from "./demo-story";
import { measureShell } from "./measure-shell";
import { drawShell } from "./shell-truth";
import { steadyMeasuring, steadyProcess } from "./steady-process";

/** All times are ms since 1970 UTC. Things refer to each other by their keys. */
export type DemoBatch = {
  readonly key: string;
  readonly supplier: string;
  readonly line: DemoLineKey;
  readonly model: string;
  readonly plan: string;
  readonly openedAt: number;
  readonly frames: readonly { readonly serial: string; readonly mould: string | null }[];
};

export type DemoInspection = {
  readonly serial: string;
  readonly batch: string;
  readonly station: string;
  readonly plan: string;
  readonly inspector: string;
  /** In the order of the plan. */
  readonly readings: readonly (number | null)[];
  readonly gauges: Readonly<Record<DemoGaugeKind, string>>;
  /** When it was finished, and how long it took. */
  readonly measuredAt: number;
  readonly durationMs: number;
  readonly temperatureC: number;
  readonly tool: string;
  readonly fixture: string;
};

export type DemoEvent = {
  readonly at: number;
  readonly line: DemoLineKey | null;
  readonly kind: "tool" | "fixture" | "mould" | "gauge" | "other";
  readonly subject: string | null;
  readonly text: string;
  readonly person: string;
};

export type DemoZeroCheck = {
  readonly gauge: string;
  readonly ring: string;
  readonly at: number;
  readonly readingMm: number;
  readonly occasion: "shift start" | "after knock" | "batch end";
  readonly person: string;
};

/** Everything of the demonstration plant as plain data, in time order, ready to be recorded. */
export type DemoPlan = {
  readonly seed: number;
  readonly plant: typeof DEMO_PLANT;
  readonly from: number;
  readonly until: number;
  readonly suppliers: readonly DemoSupplier[];
  readonly operations: readonly DemoOperation[];
  readonly lines: readonly DemoLine[];
  readonly stations: readonly DemoStation[];
  readonly people: readonly DemoPerson[];
  readonly rings: readonly DemoRing[];
  readonly gauges: readonly DemoGauge[];
  readonly plans: readonly {
    readonly key: string;
    readonly title: string;
    readonly drawing: string;
    readonly readingNames: readonly string[];
  }[];
  readonly batches: readonly DemoBatch[];
  readonly inspections: readonly DemoInspection[];
  readonly zeroChecks: readonly DemoZeroCheck[];
  readonly events: readonly DemoEvent[];
};

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
const CALENDAR_DAYS = 60;
/** Work starts at 05:00 UTC and a frame is measured every twelve minutes. */
const SHIFT_START_MS = 5 * 60 * MINUTE_MS;
const FRAME_EVERY_MS = 12 * MINUTE_MS;
const FIRST_SERIAL = 1000;
const TEMPERATURE_C = 20.6;

/** Starts of the working days, oldest first; Sundays are free, the last day is always worked. */
function workingDays(nowMs: number): number[] {
  const today = Math.floor(nowMs / DAY_MS) * DAY_MS;
  const days: number[] = [];
  for (let back = CALENDAR_DAYS; back >= 0; back -= 1) {
    const day = today - back * DAY_MS;
    if (back === 0 || new Date(day).getUTCDay() !== 0) days.push(day);
  }
  return days;
}

/** When the frames of a day's batch are measured: on the last day the first half of them, up to now. */
function frameTimes(day: number, isToday: boolean, count: number, nowMs: number): number[] {
  if (!isToday) return Array.from({ length: count }, (_, place) => day + SHIFT_START_MS + (place + 1) * FRAME_EVERY_MS);
  const half = Math.floor(count / 2);
  return Array.from({ length: half }, (_, place) => nowMs - (half - place) * FRAME_EVERY_MS + 7 * MINUTE_MS);
}

type Plans = Readonly<Record<"full" | "routine" | "plugs", readonly ReadingName[]>>;

function drawingOf(key: string): ShellDrawing {
  const drawing = findDemonstrationDrawing(key);
  if (!drawing) throw new Error(`createDemoPlan: there is no drawing ${key}`);
  return drawing;
}

function stationOf(line: DemoLineKey, operation: string): DemoStation | null {
  return DEMO_STATIONS.find((station) => station.line === line && station.operation === operation) ?? null;
}

type Collected = {
  batches: DemoBatch[];
  inspections: DemoInspection[];
  zeroChecks: DemoZeroCheck[];
  events: DemoEvent[];
};

/** One day of one line: its batch, its readings, its zero check. */
function workDay(
  line: DemoLine,
  day: { readonly start: number; readonly daysAgo: number; readonly number: number },
  context: { readonly nowMs: number; readonly random: SeededGenerator; readonly plans: Plans; readonly tool: string },
  collected: Collected,
): void {
  const { random, plans, nowMs, tool } = context;
  const { daysAgo } = day;
  const drawing = drawingOf(line.drawing);
  const station = stationOf(line.key, "after-machining");
  if (!station) return;
  const supplier = supplierAt(line.key, daysAgo);
  const date = new Date(day.start).toISOString().slice(2, 10).replaceAll("-", "");
  const batch = `${supplier}-${date}${line.key === "A42" ? "-B" : "-A"}`;
  const serial = (place: number) =>
    `${line.key}-${String(FIRST_SERIAL + day.number * line.framesPerBatch + place).padStart(5, "0")}`;
  const momentAt = (place: number): DemoMoment => ({ line: line.key, daysAgo, place, batchSize: line.framesPerBatch });
  const gauges = { ...station.gauges, bore: boreGaugeAt(station.gauges.bore, { line: line.key, daysAgo }) };
  const inspector = inspectorAt(line.key, daysAgo);
  // Ring, zero and temperature err by the same for a whole shift.
  const shiftUm = 0.3 * random.normal();
  const times = frameTimes(day.start, daysAgo === 0, line.framesPerBatch, nowMs);
  const opened = (times[0] ?? day.start) - 30 * MINUTE_MS;
  const shared = { batch, inspector, tool, fixture: line.fixture } as const;
  const temperature = () => toDecimals(TEMPERATURE_C + 0.5 * random.normal(), 1);

  collected.batches.push({
    key: batch,
    supplier,
    line: line.key,
    model: line.model.key,
    plan: `${line.drawing}-full`,
    openedAt: opened,
    frames: Array.from({ length: line.framesPerBatch }, (_, place) => ({
      serial: serial(place),
      mould: mouldAt(momentAt(place)),
    })),
  });
  collectZeroCheck(collected, { gauge: gauges.bore, at: opened, person: inspector, zeroUm: shiftUm * 0.5 });

  for (const [place, measuredAt] of times.entries()) {
    const moment = momentAt(place);
    const process = processAt(steadyProcess(drawing), moment);
    const shell = drawShell(process, random);
    const steady = steadyMeasuring(drawing);
    const measuring = measuringAt({ ...steady, boreBiasUm: shiftUm }, moment);
    if (!isForgotten(moment)) {
      collected.inspections.push({
        ...shared,
        serial: serial(place),
        station: station.key,
        plan: `${line.drawing}-full`,
        readings: measureShell(plans.full, shell, drawing, measuring, random),
        gauges,
        measuredAt,
        durationMs: Math.round(55_000 + 9_000 * Math.abs(random.normal())),
        temperatureC: temperature(),
      });
    }
    const painting = stationOf(line.key, "after-paint");
    if (!painting || !STORY.paint.sampledDaysAgo.some((sampled) => sampled === daysAgo) || place >= STORY.paint.sample)
      continue;
    const painted = paintedShell(shell, moment);
    collected.inspections.push({
      ...shared,
      serial: serial(place),
      station: painting.key,
      plan: `${line.drawing}-routine`,
      readings: measureShell(plans.routine, painted, drawing, steady, random),
      gauges: painting.gauges,
      measuredAt: measuredAt + 20 * 60 * MINUTE_MS,
      durationMs: Math.round(25_000 + 5_000 * Math.abs(random.normal())),
      temperatureC: temperature(),
    });
  }
}

function collectZeroCheck(
  collected: Collected,
  check: { readonly gauge: string; readonly at: number; readonly person: string; readonly zeroUm: number },
): void {
  const ringKey = DEMO_GAUGES.find(({ key }) => key === check.gauge)?.ring;
  const ring = DEMO_RINGS.find(({ key }) => key === ringKey);
  if (!ring) return;
  const readingMm = toDecimals(ring.certifiedSizeMm + check.zeroUm / 1000, 4);
  const { gauge, at, person } = check;
  collected.zeroChecks.push({ gauge, ring: ring.key, at, readingMm, occasion: "shift start", person });
}

/** What people did: the events of the story beside the reamer changes. */
function tellStory(days: readonly number[], collected: Collected): void {
  const at = (daysAgo: number, hours: number) =>
    (days[days.length - 1 - daysAgo] ?? 0) + SHIFT_START_MS + hours * 60 * MINUTE_MS;
  const { fixture, gauge, ovalMould, paint } = STORY;
  const usual = DEMO_STATIONS.find(({ line }) => line === gauge.line)?.gauges.bore ?? "";
  const driftAtEnd = gaugeDriftUm({ line: gauge.line, daysAgo: gauge.driftDaysAgo, place: 1, batchSize: 1 });
  collectZeroCheck(collected, { gauge: usual, at: at(gauge.foundDaysAgo, -0.6), person: "quell", zeroUm: driftAtEnd });
  collected.events.push(
    {
      at: at(gauge.foundDaysAgo, -0.5),
      line: gauge.line,
      kind: "gauge",
      subject: usual,
      text: `Zero check of ${usual} 0.015 mm off: taken out of service, spare gauge in use`,
      person: "quell",
    },
    {
      at: at(fixture.shimmedDaysAgo, (fixture.shimmedAt * FRAME_EVERY_MS) / 3_600_000 + 0.1),
      line: fixture.line,
      kind: "fixture",
      subject: "FX-2",
      text: "NDS locator of FX-2 found knocked, shimmed 0.06 mm towards 10 o'clock",
      person: "brandow",
    },
    {
      at: at(ovalMould.daysAgo - 1, 1),
      line: ovalMould.line,
      kind: "mould",
      subject: ovalMould.mould,
      text: `Pellgate Mouldings takes mould ${ovalMould.mould} out of use and cleans it`,
      person: "wreden",
    },
    {
      at: at(paint.daysAgo - 1, 2),
      line: paint.line,
      kind: "other",
      subject: "bore plugs",
      text: "Worn masking plugs in the paint shop replaced",
      person: "brandow",
    },
  );
}

/**
 * The demonstration plant: sixty days of three lines from a physical simulation, about 6,000 frames with the faults of the
 * story in them, the last day's batches half measured. The same seed and time give the same plan.
 *
 * @param seed - integer from 0
 * @param nowMs - the end of the plan, ms since 1970 UTC
 */
export function createDemoPlan(seed: number, nowMs: number): DemoPlan {
  const random = createSeededGenerator(seed);
  const days = workingDays(nowMs);
  const collected: Collected = { batches: [], inspections: [], zeroChecks: [], events: [] };
  const plansOf = new Map<DemoLineKey, Plans>();
  const tools = new Map<DemoLineKey, number>();
  for (const line of DEMO_LINES) {
    const drawing = drawingOf(line.drawing);
    plansOf.set(line.key, {
      full: fullPlan(drawing),
      routine: routinePlan(drawing),
      plugs: plugsAndBarPlan(drawing),
    });
  }
  for (const [number, start] of days.entries()) {
    const daysAgo = days.length - 1 - number;
    for (const line of DEMO_LINES) {
      const plans = plansOf.get(line.key);
      if (!plans) continue;
      const before = tools.get(line.key) ?? 4;
      const change = isReamerChange(line.key, daysAgo);
      const toolNumber = change ? before + 1 : before;
      const name = (tool: number) => `R${line.key.slice(1)}-${String(tool).padStart(2, "0")}`;
      tools.set(line.key, toolNumber);
      if (change)
        collected.events.push({
          at: start + SHIFT_START_MS - 20 * MINUTE_MS,
          line: line.key,
          kind: "tool",
          subject: name(toolNumber),
          text: `Reamer ${name(before)} changed for ${name(toolNumber)}`,
          person: "brandow",
        });
      workDay(line, { start, daysAgo, number }, { nowMs, random, plans, tool: name(toolNumber) }, collected);
    }
  }
  tellStory(days, collected);
  return {
    seed,
    plant: DEMO_PLANT,
    from: days[0] ?? nowMs,
    until: nowMs,
    suppliers: DEMO_SUPPLIERS,
    operations: DEMO_OPERATIONS,
    lines: DEMO_LINES,
    stations: DEMO_STATIONS,
    people: DEMO_PEOPLE,
    rings: DEMO_RINGS,
    gauges: DEMO_GAUGES,
    plans: DEMO_LINES.flatMap(({ key, drawing }) => [
      ...(["full", "routine"] as const).map((kind) => ({
        key: `${drawing}-${kind}`,
        title: `${kind === "full" ? "Full plan" : "Routine plan"}, ${drawing}`,
        drawing,
        readingNames: (plansOf.get(key)?.[kind] ?? []).map(formatReadingName),
      })),
      {
        key: `${drawing}-plugs`,
        title: `Plugs and bars, ${drawing}`,
        drawing,
        readingNames: (plansOf.get(key)?.plugs ?? []).map(formatReadingName),
      },
    ]),
    batches: collected.batches.sort((a, b) => a.openedAt - b.openedAt),
    inspections: collected.inspections.sort((a, b) => a.measuredAt - b.measuredAt),
    zeroChecks: collected.zeroChecks.sort((a, b) => a.at - b.at),
    events: collected.events.sort((a, b) => a.at - b.at),
  };
}
