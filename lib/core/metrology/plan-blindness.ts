import type { BoreDesign, BoreSectionDesign } from "./bore-seat";
import type { FaceDesign } from "./face-sweep";
import type { FrameDesigns } from "./frame-designs";
import type { HarmonicDesign } from "./harmonic-fit";
import type { Seat } from "./reading-name";
import type { CharacteristicName, ShellDrawing } from "./shell-drawing";
import type { WidthDesign } from "./shell-width";
import type { SweptSeatDesign } from "./swept-seat";
import { missedShare } from "./missed-share";

/**
 * How far the form of a seat may go that a plan does not see. What is not known of the stream comes from the drawing's limits.
 */
export type FormAllowance = {
  /** Largest amplitude of one lobe of the radius, µm. */
  readonly lobeUm: number;
  /** Largest ovality, 4 A2, µm. */
  readonly ovalityUm: number;
  /** Largest taper between the outermost sections of the full plan, µm. */
  readonly taperUm: number;
};

/** What the full plans of a stream show of its form, as a plan carries it. */
export type KnownForm = FormAllowance & {
  /** Frames by the full plan on which it rests. */
  readonly frames: number;
};

/** Lobes that a bore really has: 2 to 7 (common practice, no source). The 7th is what a full plan's eight angles do not see either. */
const LOBES = [2, 3, 4, 5, 6];

const MILLIRAD_PER_ARCMIN = (1000 * Math.PI) / (180 * 60);
const ARCMIN_PER_MILLIRAD = 1 / MILLIRAD_PER_ARCMIN;

function upperLimit(drawing: ShellDrawing, name: CharacteristicName): number | null {
  return drawing.characteristics.find((one) => one.name === name)?.upper ?? null;
}

/**
 * Form that a drawing lets pass. Odd lobes have no limit of their own, since a two-point size does not see them: the peak to
 * valley of a lobe on the radius is taken as large as the ovality may be. Without a limit the size's tolerance bounds the form.
 */
export function formAllowance(drawing: ShellDrawing): FormAllowance {
  const bore = drawing.characteristics.find((one) => one.name === "bore");
  const toleranceUm =
    bore === undefined || bore.lower === null || bore.upper === null ? 0 : (bore.upper - bore.lower) * 1000;
  const ovalityUm = upperLimit(drawing, "ovality") ?? toleranceUm;
  return { ovalityUm, lobeUm: ovalityUm / 2, taperUm: upperLimit(drawing, "taper") ?? toleranceUm };
}

/** Variance of one component of a lobe with any phase and any amplitude from 0 to the largest. */
function lobeVariance(largest: number): number {
  return largest ** 2 / 6;
}

/** Mean square of an amplitude that may be anything from 0 to the largest. */
function meanSquare(largest: number): number {
  return largest ** 2 / 3;
}

/** How much of a lobe of unit amplitude, in the worst phase, a fit takes for its first harmonic. */
function aliasGain({ anglesDeg, inverse }: HarmonicDesign, order: number): number {
  const k = anglesDeg.length;
  const [a, b, c, d] = [1, 1, 2, 2].map((row, place) =>
    anglesDeg.reduce((sum, angle, i) => {
      const radians = (order * angle * Math.PI) / 180;
      return sum + inverse[row * k + i]! * (place % 2 === 0 ? Math.cos(radians) : Math.sin(radians));
    }, 0),
  ) as [number, number, number, number];
  const sum = (a * a + b * b + c * c + d * d) / 2;
  const product = a * d - b * c;
  return Math.sqrt(sum + Math.sqrt(Math.max(sum * sum - product * product, 0)));
}

/** Gains below this are rounding of the design, no alias. */
const GAIN_MIN = 1e-9;

/** Largest amplitude, µm, by which lobes that a sweep does not fit can shift the centre that it gives. */
export function unseenCentreUm(harmonics: HarmonicDesign, form: FormAllowance): number {
  return Math.max(
    0,
    ...LOBES.filter((order) => !harmonics.orders.includes(order)).map((order) => {
      const gain = aliasGain(harmonics, order);
      const amplitude = order === 2 ? form.ovalityUm / 4 : form.lobeUm;
      return gain < GAIN_MIN ? 0 : gain * amplitude;
    }),
  );
}

/** Distance of a depth from the stretch that measured depths span, mm. */
function beyond(depthsMm: readonly number[], depthMm: number): number {
  return Math.max(Math.min(...depthsMm) - depthMm, depthMm - Math.max(...depthsMm), 0);
}

/** Variance of a centre component of each swept section by unseen lobes, µm^2. */
function sectionLobeVariances(design: SweptSeatDesign, form: FormAllowance): number[] {
  return design.sections.map(({ sweep }) =>
    sweep === null ? Infinity : lobeVariance(unseenCentreUm(sweep.harmonics, form)),
  );
}

/** Unseen lobes, and the tilt by which a section lies off that the full plan sweeps and this plan does not. */
function unseenCoaxiality(design: SweptSeatDesign, drawing: ShellDrawing, form: FormAllowance): number {
  const tiltUmPerMm = (upperLimit(drawing, "tilt") ?? 0) * MILLIRAD_PER_ARCMIN;
  const depths = design.sections.map(({ depthMm }) => depthMm);
  const furthest = Math.max(0, ...drawing.fullPlanDepthsMm.map((depth) => beyond(depths, depth)));
  const lobes = Math.max(...sectionLobeVariances(design, form));
  return 2 * Math.sqrt(lobes + lobeVariance(tiltUmPerMm * furthest));
}

/** The same weights as the tilt's own budget, on what lobes do to the centres. */
function unseenTilt(design: SweptSeatDesign, seat: Seat, form: FormAllowance): number {
  const variances = sectionLobeVariances(design, form);
  const xs = design.sections.map(({ xMm }) => xMm);
  const mean = xs.reduce((sum, x) => sum + x, 0) / xs.length;
  const spread = xs.reduce((sum, x) => sum + (x - mean) ** 2, 0);
  const datum = design.datum.reduce((sum, { xMm }) => sum + xMm, 0) / design.datum.length;
  const baseline = mean - datum;
  const variance = xs.reduce((sum, x, i) => {
    const own = design.swept === seat ? (x - mean) / spread : 0;
    const weight = own - 1 / (xs.length * baseline);
    return sum + weight * weight * variances[i]!;
  }, 0);
  return Math.sqrt(variance) * ARCMIN_PER_MILLIRAD;
}

/** Variance of the smallest or largest size of a section by an oval that lies between its directions, µm^2. */
function sectionSizeVariance(section: BoreSectionDesign, form: FormAllowance): number {
  return section.judgesFitted ? 0 : meanSquare(form.ovalityUm / 2) * section.unseenOval;
}

/**
 * Sizes that no direction and no depth of the plan shows: each section of the full plan is as well known as by its own readings,
 * or by those of another section and what the taper may be between them, whichever is better.
 */
function unseenSize(bore: BoreDesign, drawing: ShellDrawing, form: FormAllowance): number {
  const full = drawing.fullPlanDepthsMm;
  const span = Math.max(...full) - Math.min(...full);
  const variances = full.map((depth) =>
    Math.min(
      ...bore.sections.map((section) => {
        const away = Math.abs(section.depthMm - depth);
        const share = span > 0 ? away / span : away > 0 ? 1 : 0;
        return sectionSizeVariance(section, form) + meanSquare(form.taperUm * share);
      }),
    ),
  );
  return Math.sqrt(Math.max(...variances));
}

/** An oval of which two directions show a part only. */
function unseenOvality(bore: BoreDesign, form: FormAllowance): number {
  const variances = bore.sections
    .filter(({ indices }) => indices.length >= 2)
    .map(({ harmonics, directionsDeg }) =>
      harmonics !== null ? 0 : meanSquare(form.ovalityUm / 2) * missedRange(directionsDeg),
    );
  return Math.sqrt(Math.max(0, ...variances));
}

const PHASES = 180;

/** Mean square of the part of an oval's full swing, 2 for unit amplitude, that the range over some directions lacks. */
function missedRange(directionsDeg: readonly number[]): number {
  let sum = 0;
  for (let step = 0; step < PHASES; step += 1) {
    const swings = directionsDeg.map((direction) => Math.cos((2 * (direction - step) * Math.PI) / 180));
    sum += (2 - (Math.max(...swings) - Math.min(...swings))) ** 2;
  }
  return sum / PHASES;
}

/** The oval in the means of the two sections that give the taper. */
function unseenTaper(bore: BoreDesign, form: FormAllowance): number {
  const ends = [bore.sections[0]!, bore.sections[bore.sections.length - 1]!];
  const variance = ends.reduce((sum, { directionsDeg }) => {
    const [cos, sin] = [Math.cos, Math.sin].map(
      (of) =>
        directionsDeg.reduce((part, direction) => part + of((direction * Math.PI) / 90), 0) / directionsDeg.length,
    ) as [number, number];
    const gain = Math.hypot(cos, sin);
    return sum + (gain < GAIN_MIN ? 0 : lobeVariance((gain * form.ovalityUm) / 2));
  }, 0);
  return Math.sqrt(variance);
}

/** Share of the run-out limit that a wave of a face is taken to reach, peak to valley (common practice, no source). */
const FACE_WAVE_SHARE = 0.5;

/** A face's second wave, which three angles take for run-out and the full plan's four do not. */
function unseenRunOut(face: FaceDesign, drawing: ShellDrawing): number {
  if (face.harmonics === null) return Infinity;
  const amplitude = (FACE_WAVE_SHARE * (upperLimit(drawing, "face run-out") ?? 0)) / 2;
  const gain = aliasGain(face.harmonics, 2);
  return gain < GAIN_MIN ? 0 : 2 * Math.sqrt(lobeVariance(gain * amplitude));
}

/** Positions of the full plan's widths. */
const QUARTERS_DEG = [0, 90, 180, 270];

/** Faces out of parallel between the positions, each by as much as its run-out may be. */
function unseenWidth(width: WidthDesign, drawing: ShellDrawing): number {
  const amplitude = upperLimit(drawing, "face run-out") ?? 0;
  const missed = missedShare(width.clocksDeg, 1) - missedShare(QUARTERS_DEG, 1);
  return Math.sqrt(meanSquare(amplitude) * Math.max(missed, 0));
}

/**
 * Standard uncertainty by what a plan cannot see and the full plan can: lobes that its angles take for an offset, an oval between
 * its directions, the taper and the tilt between its sections. 0 for the full plan.
 *
 * @param form - how far the form may go: of the stream's full plans, else of the drawing's limits
 * @returns k = 1; sizes and form µm, tilt arc minutes
 * Source: GUM 4.3.7 (only bounds are known: each amplitude anything from 0 to its largest) and 4.3.5 (any phase).
 */
export function unseenOf(
  { designs, drawing, form }: { designs: FrameDesigns; drawing: ShellDrawing; form: FormAllowance },
  name: CharacteristicName,
  seat: Seat | null,
): number {
  const bore = seat === null ? null : designs.bores[seat];
  const face = seat === null ? null : designs.faces[seat];
  const [primary] = designs.swept;
  switch (name) {
    case "bore":
      return bore === null ? 0 : unseenSize(bore, drawing, form);
    case "ovality":
      return bore === null ? 0 : unseenOvality(bore, form);
    case "taper":
      return bore === null ? 0 : unseenTaper(bore, form);
    case "coaxiality": {
      const design = designs.swept.find(({ swept }) => swept === seat);
      return design === undefined ? 0 : unseenCoaxiality(design, drawing, form);
    }
    case "tilt":
      return primary === undefined || seat === null ? 0 : unseenTilt(primary, seat, form);
    case "face run-out":
      return face === null ? 0 : unseenRunOut(face, drawing);
    case "width":
      return designs.width === null ? 0 : unseenWidth(designs.width, drawing);
  }
}
