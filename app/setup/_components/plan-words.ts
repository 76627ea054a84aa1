import { USUAL_TEMPERATURE_RULE } from "@/lib/core/metrology/reference-temperature";
import type { FirstOffRule, PlanSettings, ZeroCheckSetting } from "@/lib/schemas/plan";

type Frames = { readonly kind: string; readonly n?: number; readonly size?: number; readonly firstOff?: boolean };

/** Which frames a plan asks for, in words. */
export function framesWords({ kind, n, size, firstOff }: Frames): string {
  if (kind === "every") return `every ${n}th frame${firstOff ? " and the first of each batch" : ""}`;
  return kind === "drawn" ? `${size} frames of a batch, drawn at random` : "every frame";
}

/** When a plan asks for a first-off release, in words. */
export function firstOffWords(rule: FirstOffRule | undefined): string {
  if (rule === undefined) return "not asked for";
  const when = rule.each === "event" ? "after each event on the line" : `each shift, at ${rule.starts.join(", ")}`;
  return rule.plan === undefined ? when : `${when}; the first frame by plan ${rule.plan}`;
}

/** Which weaker plans count for a plan's batches, in words. */
export function weakerPlansWords(keys: readonly string[] = []): string {
  return keys.length === 0 ? "none: every characteristic as here" : keys.join(", ");
}

/** When a plan asks for zero checks, in words. */
export function zeroCheckWords({ starts, everyHours, everyFrames }: ZeroCheckSetting = {}): string {
  const rules = [
    ...(starts === undefined ? [] : [`at ${starts.join(", ")}`]),
    ...(everyHours === undefined ? [] : [`after ${everyHours} h`]),
    ...(everyFrames === undefined ? [] : [`after ${everyFrames} frames`]),
  ];
  return [...rules, "after a knock and at the end of a batch"].join("; ");
}

/** At what temperature sizes prove something, in words. */
export function temperatureWords(rule: PlanSettings["temperature"]): string {
  const { fromC, toC, asked } = rule ?? USUAL_TEMPERATURE_RULE;
  return `${fromC} to ${toC} °C${asked ? ", read for every frame" : ""}`;
}

/** From where the form is known that a plan does not see, in words. */
export function knownFormWords(form: PlanSettings["form"]): string {
  if (form === undefined) return "not known: up to the drawing's form limits";
  const { lobeUm, ovalityUm, taperUm, frames, since } = form;
  const from =
    since === undefined ? `entered, by ${frames} full-plan frames` : `computed from ${frames} sweeps since ${since}`;
  return `${from}: lobes ${lobeUm} µm, ovality ${ovalityUm} µm, taper ${taperUm} µm`;
}
