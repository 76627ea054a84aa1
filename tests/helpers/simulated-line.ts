import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import type {
  CaseEvent,
  CaseFeature,
  CaseFrame,
  CaseLine,
  CaseStream,
  CaseZeroCheck,
  LabelName,
  Signal,
} from "@/lib/quality/cases/case";
import { ovalVector } from "@/lib/quality/cases/oval-vector";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { measureShell, type MeasuringState } from "@/lib/simulation/measure-shell";
import { withPaintInBore } from "@/lib/simulation/process-faults";
import { drawShell, type ProcessState } from "@/lib/simulation/shell-truth";
import { steadyMeasuring, steadyProcess } from "@/lib/simulation/steady-process";

/** One frame of a simulated line: what makes it, what measures it, and what its row says beside the usual. */
export type Making = {
  process: ProcessState;
  measuring: MeasuringState;
  filmUm?: number;
  labels?: Partial<Record<LabelName, string>>;
};

export type LineScript = {
  readonly drawing: "press-fit-41" | "press-fit-46" | "press-fit-42";
  readonly operation: string;
  readonly frames: number;
  /** Frames before the first fault: the baseline. */
  readonly quiet: number;
  /** Changes the making of a frame; `place` from 0. */
  readonly fault: (making: Making, place: number) => void;
  readonly events?: readonly CaseEvent[];
};

export const SHIFT = 33;
/** Frames of a reamer's life and its wear over it, µm. */
const LIFE = 300;
const WEAR_UM = 2;
/** Standard deviation of the shift errors, as the scheme takes it from the ring's uncertainty, mm. */
const WANDER_MM = 0.000375;

/** Edges of the in-control regions in sd of one frame, from the table of the design; the offset for its component. */
const EDGES: Readonly<Record<LineScript["drawing"], Readonly<Record<string, number>>>> = {
  "press-fit-41": { bore: 0.76, width: 4.3, ovality: 10, taper: 1.8, offset: 1.56, tilt: 1.56, face: 2.3, spread: 0 },
  "press-fit-46": { bore: 0.76, width: 4.3, ovality: 5, taper: 1.8, offset: 1.56, tilt: 1.6, face: 2.5, spread: 0 },
  "press-fit-42": { bore: 1.9, width: 4.3, ovality: 11.7, taper: 13, offset: 1.56, tilt: 0, face: 2.5, spread: 0 },
};

const CHARTED: readonly { feature: CaseFeature; edge: string; isForm: boolean }[] = [
  { feature: "ds.bore.mean", edge: "bore", isForm: false },
  { feature: "nds.bore.mean", edge: "bore", isForm: false },
  { feature: "ds.bore.range", edge: "spread", isForm: true },
  { feature: "nds.bore.range", edge: "spread", isForm: true },
  { feature: "ds.ovality", edge: "ovality", isForm: true },
  { feature: "nds.ovality", edge: "ovality", isForm: true },
  { feature: "ds.taper", edge: "taper", isForm: false },
  { feature: "nds.taper", edge: "taper", isForm: false },
  { feature: "offset.12", edge: "offset", isForm: false },
  { feature: "offset.3", edge: "offset", isForm: false },
  { feature: "nds.tilt", edge: "tilt", isForm: true },
  { feature: "ds.face", edge: "face", isForm: true },
  { feature: "nds.face", edge: "face", isForm: true },
  { feature: "width.mean", edge: "width", isForm: false },
];
const OVALS: readonly CaseFeature[] = ["ds.oval.12", "ds.oval.1:30", "nds.oval.12", "nds.oval.1:30"];

/** Readings of a simulated line as cases see them: wear, shift errors of the gauge, and what the script adds. */
export function simulatedLine(script: LineScript, seed: number): CaseLine {
  const random = createSeededGenerator(seed);
  const drawing = findDemonstrationDrawing(script.drawing);
  if (!drawing) throw new Error(`simulatedLine: no drawing ${script.drawing}`);
  const names = fullPlan(drawing);
  const compiled = compileMeasurement(names, drawing);
  const frames: CaseFrame[] = [];
  const values = new Map<CaseFeature, (number | null)[]>(
    [...CHARTED.map(({ feature }) => feature), ...OVALS].map((f) => [f, []]),
  );
  const zeroChecks: CaseZeroCheck[] = [];
  const age = Math.floor(random.uniform() * (LIFE - script.frames));
  let shiftUm = 0;
  for (let place = 0; place < script.frames; place++) {
    const shift = Math.floor(place / SHIFT);
    if (place % SHIFT === 0) shiftUm = 0.3 * random.normal();
    const steady = steadyProcess(drawing);
    const wearMm = (WEAR_UM * ((age + place) / LIFE - 0.5)) / 1000;
    const making: Making = {
      process: { ...steady, boreMm: { ds: steady.boreMm.ds - wearMm, nds: steady.boreMm.nds - wearMm } },
      measuring: { ...steadyMeasuring(drawing), boreBiasUm: shiftUm },
    };
    script.fault(making, place);
    if (place % SHIFT === 0)
      zeroChecks.push({
        gauge: making.labels?.["gauge.bore"] ?? "BG-1",
        place,
        deviationUm: making.measuring.boreBiasUm + 0.5 * random.normal(),
        sdUm: 0.8,
      });
    const shell = drawShell(making.process, random);
    const painted = making.filmUm === undefined ? shell : withPaintInBore(shell, making.filmUm);
    const measured = measureFrame(compiled, measureShell(names, painted, drawing, making.measuring, random));
    frames.push({
      serial: `S-${place}`,
      outside: [],
      labels: {
        tool: "R-1",
        fixture: "FX-1",
        ...(script.drawing === "press-fit-41" ? { mould: `M${(shift % 2) + 1}` } : {}),
        "gauge.bore": "BG-1",
        inspector: shift % 8 < 4 ? "A" : "B",
        batch: `L-${shift}`,
        shift: `${shift}`,
        ...making.labels,
      },
    });
    const ovals = { ...ovalVector("ds", measured.bores.ds), ...ovalVector("nds", measured.bores.nds) };
    for (const [feature, column] of values)
      column.push(
        feature.includes(".oval.")
          ? (ovals[feature as keyof typeof ovals] ?? null)
          : (measured.features[feature as never] as { value: number | null }).value,
      );
  }
  const baseline = Array.from({ length: script.quiet }, (_, place) => place);
  const streams = [...values].map(([feature, column]): CaseStream => ({
    feature,
    values: column,
    baseline,
    isForm: CHARTED.find((one) => one.feature === feature)?.isForm ?? false,
    wander: feature.endsWith(".bore.mean") ? WANDER_MM : 0,
    lower: null,
    upper: null,
  }));
  return {
    line: script.drawing,
    operation: script.operation,
    frames,
    streams,
    events: script.events ?? [],
    zeroChecks,
    closed: {},
    ownCauses: [],
  };
}

/** The line as it was when a frame had just been measured. */
export function upTo(line: CaseLine, place: number): CaseLine {
  return {
    ...line,
    frames: line.frames.slice(0, place + 1),
    streams: line.streams.map((stream) => ({ ...stream, values: stream.values.slice(0, place + 1) })),
    zeroChecks: line.zeroChecks.filter((check) => check.place <= place + 1),
    events: line.events.filter((event) => event.place <= place),
  };
}

/** Signals of three tests at the edges, one-sided for 8,580 frames; after a signal the sums begin again. */
export function simulatedSignals(line: CaseLine, drawing: LineScript["drawing"], quiet: number): Signal[] {
  const signals: Signal[] = [];
  for (const { feature, edge, isForm } of CHARTED) {
    const stream = line.streams.find((one) => one.feature === feature);
    if (!stream) continue;
    const base = stream.values.slice(0, quiet).flatMap((value) => value ?? []);
    const mean = base.reduce((sum, value) => sum + value, 0) / base.length;
    const sd = Math.sqrt(base.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (base.length - 1));
    const e = EDGES[drawing][edge] ?? 0;
    const sums = { 1: [0, 0] as [number, number], [-1]: [0, 0] as [number, number] };
    for (let place = quiet; place < stream.values.length; place++) {
      const value = stream.values[place];
      if (value === null || value === undefined) continue;
      for (const sign of isForm ? ([1] as const) : ([1, -1] as const)) {
        const u = (sign * (value - mean)) / sd;
        const own = sums[sign];
        own[0] = Math.max(0, own[0] + u - e - 0.5);
        own[1] = Math.max(0, own[1] + u - e - 1.25);
        const test = own[0] > 8.0053 ? "slow sum" : own[1] > 3.2733 ? "fast sum" : u - e > 4.2306 ? "limit" : null;
        if (test === null) continue;
        signals.push({ feature, place, sign, test });
        sums[sign] = [0, 0];
      }
    }
  }
  return signals.sort((a, b) => a.place - b.place);
}
