import { gaugeBarSet } from "@/lib/core/metrology/gauge-bar";
import type { CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import { FACE_NOISE_UM } from "@/lib/core/metrology/face-sweep";
import { BORE_RANDOM_UM } from "@/lib/core/metrology/bore-seat";
import { formatReadingName, type PlugFeel, type BarPassage, type Seat } from "@/lib/core/metrology/reading-name";
import { growthUmPerKelvin } from "@/lib/core/metrology/reference-temperature";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { SWEEP_NOISE_UM } from "@/lib/core/metrology/sweep-harmonics";
import { DATUM_SECTION_UM, RING_UM } from "@/lib/core/metrology/uncertainty-budget";
import type { SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { clippedDoubts, clippedSweeps } from "@/lib/quality/gauge-doubts";
import { feltIn, type InspectionEvidence } from "@/lib/quality/inspection-evidence";
import {
  centreAt,
  faceHeight,
  middleDepth,
  passageMm,
  radiusForm,
  type TrueShell,
  trueValues,
  twoPoint,
  widthAt,
} from "./true-shell";

export const TROUBLES = [
  "none",
  "slip",
  "burr",
  "clipped travel",
  "warm part",
  "missing reading",
  "measured twice",
] as const;
export type Trouble = (typeof TROUBLES)[number];

/** Indicator error and temperature of the budget: anything within these bounds (invented for the demonstration). */
const INDICATOR_BOUND_UM = 3;
const TEMPERATURE_BOUND_K = 3;
/** The width's 10 µm: what the caliper has for all its readings of a frame, and for each by itself (invented shares). */
const WIDTH_COMMON_MM = 0.009;
const WIDTH_OWN_MM = 0.0044;
const BORE_STEP_MM = 0.001;
const SWEEP_STEP_UM = 0.5;

const rounded = (value: number, step: number): number => Number((Math.round(value / step) * step).toFixed(4));

type Hand = { readonly random: SeededGenerator; readonly trouble: Trouble };

function feelOf(passage: number, plugMm: number, random: SeededGenerator): PlugFeel {
  const looseUm = (passage - plugMm) * 1000 + random.normal();
  if (looseUm < -2 * random.uniform()) return "no";
  return looseUm > 20 + 40 * random.uniform() ? "slides" : "hand";
}

function barOf(shell: TrueShell, set: string, drawing: ShellDrawing, random: SeededGenerator): BarPassage {
  const gauges = gaugeBarSet(set);
  if (gauges === null) throw new Error(`barOf: set ${set} must be known`);
  const { gaugeBoreMm, barMm, gaugeLengthMm, freeAboveUm, passesFromUm } = gauges;
  const truth = trueValues(shell, drawing);
  const tilt = Math.max(...(["ds", "nds"] as const).map((seat) => truth.get(`tilt ${seat}`)?.[0] ?? 0));
  const clearance = (gaugeBoreMm - barMm - gaugeLengthMm * Math.tan((tilt * Math.PI) / 10800)) * 1000 + random.normal();
  if (clearance > freeAboveUm) return { result: "free" };
  return clearance < passesFromUm ? { result: "no" } : { result: "stiff", clockDeg: 0 };
}

/** Readings of a shell by one person on one occasion, and what was felt. */
export function measureTrueShell(
  shell: TrueShell,
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  { random, trouble }: Hand,
): InspectionEvidence {
  const middle = middleDepth(drawing);
  const temperatureC = trouble === "warm part" ? 15 + 23 * random.uniform() : 20.4 + 0.7 * random.normal();
  const perKelvin = growthUmPerKelvin(drawing.nominalBoreMm, drawing.shellMaterial.expansionPerMegakelvin);
  const apartK = TEMPERATURE_BOUND_K * (2 * random.uniform() - 1);
  const warmUm = perKelvin * ((trouble === "warm part" ? temperatureC - 20 : 0) + apartK);
  const boreUm = RING_UM * random.normal() + INDICATOR_BOUND_UM * (2 * random.uniform() - 1) + warmUm;
  const span = Math.max(...drawing.fullPlanDepthsMm) - Math.min(...drawing.fullPlanDepthsMm);
  const axis = [DATUM_SECTION_UM * random.normal(), DATUM_SECTION_UM * random.normal()].map((um) => um / span);
  const zero = Math.round(20 * random.normal());
  const sweeps = new Map<number, number>();
  const slipUm = (random.uniform() < 0.5 ? -1 : 1) * (5 + 55 * random.uniform());
  const slipFrom = 45 * (1 + Math.floor(7 * random.uniform()));
  const slipsBoth = random.uniform() < 0.5;
  const burrAt = Math.floor(8 * random.uniform()) * 45;
  const travelUm = 15 + 60 * random.uniform();
  const widthMm = WIDTH_COMMON_MM * random.normal();
  const plugs: Record<string, PlugFeel> = {};
  const bars: Record<string, BarPassage> = {};
  const readings = compiled.names.map((name): number | null => {
    switch (name.kind) {
      case "bore": {
        const um = boreUm + BORE_RANDOM_UM * random.normal();
        return rounded(
          twoPoint(shell.seats[name.seat], name.depthMm, name.directionDeg, drawing) + um / 1000,
          BORE_STEP_MM,
        );
      }
      case "sweep": {
        const [y, z] = centreAt(shell, name.depthMm, drawing);
        const lever = drawing.widthMm - name.depthMm - middle;
        const angle = (name.angleDeg * Math.PI) / 180;
        const centre = (y + (axis[0] ?? 0) * lever) * Math.cos(angle) + (z + (axis[1] ?? 0) * lever) * Math.sin(angle);
        const first = !sweeps.has(name.depthMm) && sweeps.size === 0;
        sweeps.set(name.depthMm, 1);
        const isFirst = first || [...sweeps.keys()][0] === name.depthMm;
        const slip = trouble === "slip" && (isFirst || slipsBoth) && name.angleDeg >= slipFrom ? slipUm : 0;
        const burr = trouble === "burr" && isFirst && name.angleDeg === burrAt ? 40 : 0;
        const um = centre + radiusForm(shell.seats[name.seat], name.angleDeg) + SWEEP_NOISE_UM * random.normal();
        const shown = trouble === "clipped travel" ? Math.max(-travelUm, Math.min(travelUm, um)) : um;
        return rounded(zero + shown + slip + burr, SWEEP_STEP_UM);
      }
      case "face":
        return rounded(
          zero + faceHeight(shell.faces[name.seat], name.angleDeg) + FACE_NOISE_UM * random.normal(),
          SWEEP_STEP_UM,
        );
      case "width":
        return rounded(widthAt(shell, name.clockDeg) + widthMm + WIDTH_OWN_MM * random.normal(), 0.005);
      case "plug": {
        const seat = shell.seats[name.seat];
        const largest = trueValues(shell, drawing).get(`bore ${name.seat}`)?.[1] ?? 0;
        plugs[formatReadingName(name)] = feelOf(
          name.across === true ? largest : passageMm(seat, drawing),
          name.sizeMm,
          random,
        );
        return null;
      }
      case "bar":
        bars[formatReadingName(name)] = barOf(shell, name.set, drawing, random);
        return null;
    }
  });
  // The room's indicator has no travel on record: a cut is found by its flat top alone.
  const noGauges = compiled.names.map(() => null);
  const left = trouble === "missing reading" ? Math.floor(readings.length * random.uniform()) : -1;
  const kept = readings.map((value, at) => (at === left ? null : value));
  return {
    key: String(random.uint32()),
    label: "the inspection",
    drawing,
    compiled,
    readings: kept,
    offScale: [],
    felt: feltIn({
      ...(Object.keys(plugs).length > 0 ? { plugs } : {}),
      ...(Object.keys(bars).length > 0 ? { bars } : {}),
    }),
    temperatureC: Number(temperatureC.toFixed(1)),
    doubts: clippedDoubts(compiled, clippedSweeps(compiled.names, kept, noGauges)),
    planCounts: true,
  };
}

export type { Seat };
