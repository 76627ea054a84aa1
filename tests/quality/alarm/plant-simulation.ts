import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { ALARM_STREAMS } from "@/lib/quality/alarm/alarm-streams";
import { runLine } from "@/lib/quality/alarm/run-line";
import { withDriftingGauge, withWornReamer } from "@/lib/simulation/process-faults";
import { simulatedColumns } from "@/tests/helpers/simulated-columns";

/** The lines of the demonstration plant without a fault: frames a working day, days of a reamer and what it wears, µm. */
const LINES = [
  { drawing: "press-fit-41", framesADay: 33, days: 9, wearUm: 2 },
  { drawing: "press-fit-46", framesADay: 33, days: 8, wearUm: 2 },
  { drawing: "press-fit-42", framesADay: 33, days: 10, wearUm: 0.6 },
] as const;
const WORKING_DAYS = 60;
const DAYS_A_WEEK = 6;
const SHIFT_ERROR_UM = 0.3;
/** Signals of a line that lie closer are one case. */
const CASE_FRAMES = 25;

/** Cases of a fault-free plant in 60 working days: false ones, and frames that really lie outside a guarded limit. */
export type QuietPlant = { readonly falseCases: number; readonly realFrames: number };

/** Sixty working days of three lines with wear and shift errors, a budget of one false case a week, baselines as they start. */
export function quietPlant(seed: number): QuietPlant {
  let falseCases = 0;
  let realFrames = 0;
  for (const [place, { drawing: key, framesADay, days, wearUm }] of LINES.entries()) {
    const drawing = findDemonstrationDrawing(key);
    if (!drawing) throw new Error(`quietPlant: there is no drawing ${key}`);
    const random = createSeededGenerator(1000 * seed + place);
    const shiftErrors = Array.from({ length: WORKING_DAYS }, () => SHIFT_ERROR_UM * random.normal());
    const life = days * framesADay;
    const line = simulatedColumns(drawing, WORKING_DAYS * framesADay, {
      seed: 1_000_000 + 1000 * seed + place,
      at: (frame, process, measuring) => ({
        process: withWornReamer(process, wearUm * ((frame % life) / life - 0.5)),
        measuring: withDriftingGauge(measuring, shiftErrors[Math.floor(frame / framesADay)] ?? 0),
      }),
    });
    const streams = runLine(line, {
      runLength: () => LINES.length * ALARM_STREAMS.length * framesADay * DAYS_A_WEEK,
      // One life of the reamer, so that the centre is that of the middle of a life.
      baselineFrames: life,
      // An approved stretch is taken as it is.
      wholeAlpha: 0,
      ordinary: ({ characteristic, statistic }) =>
        characteristic === "bore" && statistic === "mean"
          ? { wear: wearUm / 2 / 1000, betweenShiftSd: SHIFT_ERROR_UM / 1000 }
          : {},
    });
    const found = streams.flatMap(({ signals }) => signals).sort((a, b) => a.index - b.index);
    realFrames += found.filter(({ test }) => test === "frame").length;
    let last = -Infinity;
    for (const { index, test } of found) {
      if (test === "frame") continue;
      if (index - last > CASE_FRAMES) falseCases += 1;
      last = index;
    }
  }
  return { falseCases, realFrames };
}

/** False cases that a plant's budget allows in the time. */
export const QUIET_PLANT_BUDGET = WORKING_DAYS / DAYS_A_WEEK;
