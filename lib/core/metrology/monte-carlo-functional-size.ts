import { CoreError, type Estimate } from "../errors";
import type { SeededGenerator } from "../numerics/seeded-generator";
import { BORE_RANDOM_UM } from "./bore-seat";
import { frameSections } from "./frame-sections";
import { functionalSize } from "./functional-size";
import { type CompiledMeasurement, measureFrame } from "./measure-frame";
import { type DrawnFeature, summariseDraws } from "./monte-carlo-uncertainty";
import type { HarmonicSection } from "./seat-section";
import type { ShellDrawing } from "./shell-drawing";
import { SWEEP_NOISE_UM } from "./sweep-harmonics";
import { DATUM_SECTION_UM, datumReach, INDICATOR_UM, RING_UM, TEMPERATURE_UM } from "./uncertainty-budget";

/** How many drawn shells are solved in full to learn at which contacts the cylinder can bind. */
const SOLVED_SHELLS = 120;

/** A section's response to every source of error: centre, radius and lobes, mm per unit of the source. */
type Response = {
  readonly y: Float64Array;
  readonly z: Float64Array;
  readonly radius: Float64Array;
  readonly lobes: ReadonlyMap<number, { readonly cos: Float64Array; readonly sin: Float64Array }>;
};

/** One way of binding: diameter = constant + gradient . errors. */
type Binding = { readonly constant: number; readonly gradient: Float64Array };

type Sources = {
  /** Place of each source's reading; the three last sources are the common size error and the datum's two directions. */
  readonly readings: readonly number[];
  readonly sd: Float64Array;
};

function sourcesOf(compiled: CompiledMeasurement, values: readonly (number | null)[], datumSd: number): Sources {
  const readings = compiled.names.flatMap(({ kind }, index) =>
    (kind === "bore" || kind === "sweep") && values[index] !== null ? [index] : [],
  );
  const own = readings.map((index) =>
    compiled.names[index]!.kind === "bore" ? BORE_RANDOM_UM / 1000 : SWEEP_NOISE_UM,
  );
  const common = Math.hypot(RING_UM, INDICATOR_UM, TEMPERATURE_UM) / 1000;
  return { readings, sd: Float64Array.from([...own, common, datumSd, datumSd]) };
}

type Context = {
  readonly drawing: ShellDrawing;
  readonly compiled: CompiledMeasurement;
  readonly values: readonly (number | null)[];
  readonly sources: Sources;
  readonly datumMid: number;
};

/** Sections as they would be measured with these errors. */
function sectionsWith(context: Context, errors: Float64Array): HarmonicSection[] {
  const { drawing, compiled, values, sources, datumMid } = context;
  const n = sources.readings.length;
  const read = [...values];
  sources.readings.forEach((index, j) => {
    const common = compiled.names[index]!.kind === "bore" ? errors[n]! : 0;
    read[index] = values[index]! + errors[j]! + common;
  });
  const datumSeat = compiled.designs.swept[0]?.swept === "ds" ? "nds" : "ds";
  return frameSections(drawing, measureFrame(compiled, read)).map((section) => {
    if (section.seat !== datumSeat || section.centre === null) return section;
    const along = section.xMm - datumMid;
    const centre = {
      y: section.centre.y + errors[n + 1]! * along,
      z: section.centre.z + errors[n + 2]! * along,
    };
    return { ...section, centre };
  });
}

function lobeParts(section: HarmonicSection, order: number): readonly [cos: number, sin: number] {
  const lobe = section.harmonics.find((harmonic) => harmonic.order === order);
  const angle = ((lobe?.phaseDeg ?? 0) * order * Math.PI) / 180;
  const amplitude = lobe?.amplitudeMm ?? 0;
  return [amplitude * Math.cos(angle), amplitude * Math.sin(angle)];
}

/** Responses by difference quotient: the sections are linear in the readings, so a step of one sd is exact. */
function responsesOf(context: Context, base: readonly HarmonicSection[]): Response[] {
  const { sd } = context.sources;
  const count = sd.length;
  const responses = base.map((section): Response => ({
    y: new Float64Array(count),
    z: new Float64Array(count),
    radius: new Float64Array(count),
    lobes: new Map(
      section.harmonics.map(({ order }) => [order, { cos: new Float64Array(count), sin: new Float64Array(count) }]),
    ),
  }));
  for (let j = 0; j < count; j += 1) {
    const errors = new Float64Array(count);
    errors[j] = sd[j]!;
    const moved = sectionsWith(context, errors);
    base.forEach((section, s) => {
      const there = moved[s]!;
      const response = responses[s]!;
      response.y[j] = ((there.centre?.y ?? 0) - (section.centre?.y ?? 0)) / sd[j]!;
      response.z[j] = ((there.centre?.z ?? 0) - (section.centre?.z ?? 0)) / sd[j]!;
      response.radius[j] = (there.radiusMm - section.radiusMm) / sd[j]!;
      for (const [order, { cos, sin }] of response.lobes) {
        const [cosThere, sinThere] = lobeParts(there, order);
        const [cosHere, sinHere] = lobeParts(section, order);
        cos[j] = (cosThere - cosHere) / sd[j]!;
        sin[j] = (sinThere - sinHere) / sd[j]!;
      }
    });
  }
  return responses;
}

/** How the diameter answers to errors while the cylinder binds at the contacts that it has with these errors. */
function bindingAt(
  context: Context,
  base: readonly HarmonicSection[],
  responses: readonly Response[],
  errors: Float64Array,
): Estimate<Binding> {
  const solved = functionalSize(sectionsWith(context, errors));
  if (!solved.ok) return solved;
  const gradient = new Float64Array(errors.length);
  const total = solved.value.contacts.reduce((sum, contact) => sum + contact.share, 0);
  for (const contact of solved.value.contacts) {
    const place = base.findIndex(({ seat, depthMm }) => seat === contact.seat && depthMm === contact.depthMm);
    const response = responses[place];
    if (response === undefined || total <= 0) continue;
    const phi = (contact.clockDeg * Math.PI) / 180;
    const weight = (2 * contact.share) / total;
    for (let j = 0; j < errors.length; j += 1) {
      let moved = Math.cos(phi) * response.y[j]! + Math.sin(phi) * response.z[j]! + response.radius[j]!;
      for (const [order, { cos, sin }] of response.lobes)
        moved += cos[j]! * Math.cos(order * phi) + sin[j]! * Math.sin(order * phi);
      gradient[j]! += weight * moved;
    }
  }
  const answered = gradient.reduce((sum, slope, j) => sum + slope * errors[j]!, 0);
  return { ok: true, value: { constant: solved.value.diameterMm - answered, gradient }, warnings: [] };
}

function drawErrors(sd: Float64Array, generator: SeededGenerator): Float64Array {
  const errors = new Float64Array(sd.length);
  for (let j = 0; j < sd.length; j += 1) errors[j] = sd[j]! * generator.normal();
  return errors;
}

/**
 * Uncertainty of the functional size of the pair by Monte Carlo (GUM Supplement 1).
 *
 * @param drawing - the shell drawing
 * @param compiled - from compileMeasurement for that drawing
 * @param values - readings of one inspection
 * @param options.draws - number of draws, >= 100
 * @param options.generator - seeded
 * @returns mean, standard uncertainty (k = 1) and its standard error, mm; no answer where the readings place no pair of seats
 * @throws CoreError too-few-values on fewer than 100 draws; those of measureFrame
 * Method: the largest cylinder is the optimum of a linear programme, so its diameter is the smallest of linear functions of
 *   the errors, one per set of contacts. The sets are learned from some fully solved draws; every draw then takes the
 *   smallest. A set that is never met would only make a rare draw too large.
 * Accuracy: within 3 standard errors of draws that are all solved in full
 *   (tests/core/metrology/monte-carlo-functional-size.test.ts).
 * Source: JCGM 101:2008; duality of linear programmes.
 */
export function monteCarloFunctionalSize(
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  values: readonly (number | null)[],
  options: { readonly draws: number; readonly generator: SeededGenerator },
): Estimate<DrawnFeature> {
  const { draws, generator } = options;
  if (!(draws >= 100))
    throw new CoreError("too-few-values", `monteCarloFunctionalSize: draws must be at least 100; got ${draws}`, {
      draws,
    });
  const [swept] = compiled.designs.swept;
  const { bores } = compiled.designs;
  if (swept === undefined || bores.ds === null || bores.nds === null)
    return { ok: false, reason: "functional size needs diameters of both seats and a sweep" };
  const reach = datumReach(swept, drawing);
  const datumSd = DATUM_SECTION_UM / 1000 / reach.length;
  const sources = sourcesOf(compiled, values, datumSd);
  const context: Context = { drawing, compiled, values, sources, datumMid: reach.mid };
  const base = sectionsWith(context, new Float64Array(sources.sd.length));
  if (!["ds", "nds"].every((seat) => base.some((section) => section.seat === seat)))
    return { ok: false, reason: "functional size needs diameters of both seats" };
  const responses = responsesOf(context, base);
  const bindings: Binding[] = [];
  for (let i = 0; i < SOLVED_SHELLS; i += 1) {
    const errors = i === 0 ? new Float64Array(sources.sd.length) : drawErrors(sources.sd, generator);
    const binding = bindingAt(context, base, responses, errors);
    if (!binding.ok) return binding;
    bindings.push(binding.value);
  }
  const sizes = new Float64Array(draws);
  for (let draw = 0; draw < draws; draw += 1) {
    const errors = drawErrors(sources.sd, generator);
    let smallest = Infinity;
    for (let b = 0; b < bindings.length; b += 1) {
      const { constant, gradient } = bindings[b]!;
      let size = constant;
      for (let j = 0; j < errors.length; j += 1) size += gradient[j]! * errors[j]!;
      if (size < smallest) smallest = size;
    }
    sizes[draw] = smallest;
  }
  return { ok: true, value: summariseDraws(sizes), warnings: [] };
}
