import { toSignificant } from "../core/numerics/decimal-digits";
import { binomialSf } from "../core/distributions/binomial";
import type { CompiledMeasurement, FrameMeasurement } from "../core/metrology/measure-frame";
import type { FormAllowance } from "../core/metrology/plan-blindness";
import type { Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";

/** Newest frames of a stream that are looked at, and how few say nothing of its form (common practice, no source). */
export const FORM_FRAMES = { most: 300, fewest: 100 } as const;
/** Share of a stream's frames whose form the plan's allowance is to contain (common practice, no source). */
const CONTAINED = 0.99;
/** Chance below which more frames beyond a stated form are no accident (common practice, no source). */
const ACCIDENT = 0.01;
/** Suggestions are rounded up to this, µm. */
const STEP_UM = 0.1;
/** The lowest lobe that is no oval: a sweep has to tell it before it says anything of lobes. */
const FIRST_LOBE = 3;

const SEATS = ["ds", "nds"] as const;
const PARTS = ["lobeUm", "ovalityUm", "taperUm"] as const;
type FormPart = (typeof PARTS)[number];

/** Form of one seat as one inspection shows it, µm; null where its plan does not see it. */
export type SeatForm = Readonly<Record<FormPart, number | null>> & {
  readonly seat: Seat;
  /** Order of the largest lobe. */
  readonly order: number | null;
};

/** Form of one seat of a stream: the value that 99 of 100 of its frames do not exceed, µm, and from how many it is. */
export type StreamForm = {
  readonly seat: Seat;
  readonly parts: Readonly<Record<FormPart, { readonly valueUm: number; readonly frames: number } | null>>;
  /** The largest lobe of all, and its order. */
  readonly largest: { readonly lobeUm: number; readonly order: number } | null;
};

function span(depthsMm: readonly number[]): number {
  return Math.max(...depthsMm) - Math.min(...depthsMm);
}

/**
 * Form that an inspection's plan sees: lobes from sweeps whose angles tell three of them, ovality where the second harmonic of a
 * section's diameters can be estimated, taper where the outermost sections of the full plan were measured. Noise of the readings is
 * part of it, which errs to the large side.
 *
 * @returns of each seat of which something is seen
 */
export function shownForm(
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  { swept, features }: Pick<FrameMeasurement, "swept" | "features">,
): SeatForm[] {
  const fullSpan = span(drawing.fullPlanDepthsMm);
  return SEATS.flatMap((seat): SeatForm[] => {
    const lobes = swept
      .filter((one) => one.swept === seat)
      .flatMap(({ sections }) => sections.flatMap(({ fit }) => fit?.lobes ?? []))
      .filter(({ order }) => order >= FIRST_LOBE);
    const largest = lobes.reduce<(typeof lobes)[number] | null>(
      (most, one) => (most === null || one.amplitude > most.amplitude ? one : most),
      null,
    );
    const sections = compiled.designs.bores[seat]?.sections ?? [];
    const seesOval = sections.some(({ harmonics }) => harmonics !== null);
    const seesTaper = sections.length > 1 && span(sections.map(({ depthMm }) => depthMm)) >= fullSpan;
    const taper = seesTaper ? features[`${seat}.taper`].value : null;
    const shown = {
      seat,
      lobeUm: largest?.amplitude ?? null,
      order: largest?.order ?? null,
      ovalityUm: seesOval ? features[`${seat}.ovality`].value : null,
      taperUm: taper === null ? null : Math.abs(taper),
    };
    return PARTS.some((part) => shown[part] !== null) ? [shown] : [];
  });
}

/** The order statistic that is exceeded by a share 1 - p of further values on average, at most the largest. */
function upperQuantile(values: readonly number[], p: number): number | null {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length, Math.ceil(p * (sorted.length + 1))) - 1] ?? null;
}

/**
 * Form of a stream (frames of one drawing, model, line and operation), seat by seat.
 *
 * @param frames - the newest first; at most FORM_FRAMES.most are looked at
 */
export function streamForm(frames: readonly (readonly SeatForm[])[]): StreamForm[] {
  const newest = frames.slice(0, FORM_FRAMES.most);
  return SEATS.flatMap((seat): StreamForm[] => {
    const own = newest.flatMap((frame) => frame.filter((one) => one.seat === seat));
    const part = (name: FormPart) => {
      const values = own.flatMap((one) => one[name] ?? []);
      const valueUm = upperQuantile(values, CONTAINED);
      return valueUm === null ? null : { valueUm, frames: values.length };
    };
    const [largest] = own
      .flatMap(({ lobeUm, order }) => (lobeUm === null || order === null ? [] : [{ lobeUm, order }]))
      .sort((a, b) => b.lobeUm - a.lobeUm);
    const parts = { lobeUm: part("lobeUm"), ovalityUm: part("ovalityUm"), taperUm: part("taperUm") };
    return own.length === 0 ? [] : [{ seat, parts, largest: largest ?? null }];
  });
}

/** What the streams of a plan suggest for its settings: the worst of them, and on how few frames its thinnest part rests. */
export type SuggestedForm = FormAllowance & { readonly frames: number };

/**
 * Form that a plan may state for what it does not see: of each part the largest of all seats and streams that have enough frames.
 *
 * @returns null where a part has enough frames in no stream: the drawing's limits stand
 */
export function suggestedForm(streams: readonly (readonly StreamForm[])[]): SuggestedForm | null {
  const of = (name: FormPart) => {
    const known = streams.flat().flatMap(({ parts }) => parts[name] ?? []);
    const enough = known.filter(({ frames }) => frames >= FORM_FRAMES.fewest);
    if (enough.length === 0) return null;
    const valueUm = Math.max(...enough.map((one) => one.valueUm));
    const rounded = Math.ceil(toSignificant(valueUm / STEP_UM, 12)) * STEP_UM;
    return {
      valueUm: toSignificant(rounded, 12),
      frames: Math.min(...enough.map(({ frames }) => frames)),
    };
  };
  const [lobe, ovality, taper] = [of("lobeUm"), of("ovalityUm"), of("taperUm")];
  if (lobe === null || ovality === null || taper === null) return null;
  return {
    lobeUm: lobe.valueUm,
    ovalityUm: ovality.valueUm,
    taperUm: taper.valueUm,
    frames: Math.min(lobe.frames, ovality.frames, taper.frames),
  };
}

/** More frames of a stream beyond a stated form than one in a hundred explains. */
export type FormExceeded = {
  readonly part: FormPart;
  readonly statedUm: number;
  readonly largestUm: number;
  readonly beyond: number;
  readonly frames: number;
};

/**
 * Whether frames show more form than a plan states: as many beyond it as one in a hundred would hardly bring.
 *
 * @param frames - those measured since the plan was released
 * Method: exact binomial test of each part, under 1 %: one frame alone says nothing.
 */
export function exceededForm(frames: readonly (readonly SeatForm[])[], stated: FormAllowance): FormExceeded[] {
  return PARTS.flatMap((part): FormExceeded[] => {
    const values = frames.flatMap((seats) => {
      const own = seats.flatMap((seat) => seat[part] ?? []);
      return own.length === 0 ? [] : [Math.max(...own)];
    });
    const beyond = values.filter((value) => value > stated[part]).length;
    if (beyond === 0 || binomialSf(beyond - 1, { n: values.length, p: 1 - CONTAINED }) >= ACCIDENT) return [];
    return [{ part, statedUm: stated[part], largestUm: Math.max(...values), beyond, frames: values.length }];
  });
}
