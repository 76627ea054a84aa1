import { USUAL_TEMPERATURE_RULE } from "@/lib/core/metrology/reference-temperature";
import type { DraftPlan, FirstOffRule, PlanSettings, ZeroCheckSetting } from "@/lib/schemas/plan";
import { readTypedNumber } from "@/lib/schemas/typed-number";

/** A measuring plan while it is typed: numbers and times as their texts. */
export type PlanEntry = {
  readonly key: string;
  readonly title: string;
  readonly revision: string;
  readonly order: readonly string[];
  readonly frames: "all" | "every" | "drawn";
  readonly n: string;
  readonly firstOfBatch: boolean;
  readonly size: string;
  readonly firstOff: "none" | "shift" | "event";
  readonly shiftStarts: string;
  /** Key of the fuller plan by which the first-off is measured; empty: this plan. */
  readonly fullerPlan: string;
  /** Keys of plans that ask for less and count all the same. */
  readonly weakerPlans: readonly string[];
  readonly zeroStarts: string;
  readonly zeroHours: string;
  readonly zeroFrames: string;
  /** Range in which sizes prove something; both empty: the usual one. */
  readonly temperatureFrom: string;
  readonly temperatureTo: string;
  readonly temperatureAsked: boolean;
  /** Largest closing error of a sweep; empty: the usual one. */
  readonly closingLimit: string;
  /** Form that the stream's full plans show: lobes, ovality, taper, and of how many frames; all empty: the drawing's limits. */
  readonly formLobe: string;
  readonly formOvality: string;
  readonly formTaper: string;
  readonly formFrames: string;
  /** Day of the oldest sweep from which it was computed; empty where it was typed. */
  readonly formSince: string;
};

type Frames = { readonly kind: string; readonly n?: number; readonly size?: number; readonly firstOff?: boolean };
type Settings = Pick<
  PlanSettings,
  "firstOff" | "zeroCheck" | "weakerPlans" | "temperature" | "form" | "closingLimitUm"
>;
type Head = Pick<PlanEntry, "key" | "title" | "revision" | "order">;

const USUAL_SHIFTS = "06:00, 14:00, 22:00";

/** The form of a plan that is there, or of a new one. */
export function toPlanEntry(head: Head, frames: Frames = { kind: "all" }, settings: Settings = {}): PlanEntry {
  const { firstOff, zeroCheck = {}, temperature, form, closingLimitUm } = settings;
  const text = (value: number | undefined): string => (value === undefined ? "" : String(value));
  return {
    ...head,
    frames: frames.kind === "every" || frames.kind === "drawn" ? frames.kind : "all",
    n: String(frames.n ?? 10),
    firstOfBatch: frames.firstOff ?? true,
    size: String(frames.size ?? 20),
    firstOff: firstOff?.each ?? "none",
    shiftStarts: firstOff?.each === "shift" ? firstOff.starts.join(", ") : USUAL_SHIFTS,
    fullerPlan: firstOff?.plan ?? "",
    weakerPlans: settings.weakerPlans ?? [],
    zeroStarts: zeroCheck.starts?.join(", ") ?? "",
    zeroHours: zeroCheck.everyHours === undefined ? "" : String(zeroCheck.everyHours),
    zeroFrames: zeroCheck.everyFrames === undefined ? "" : String(zeroCheck.everyFrames),
    temperatureFrom: text(temperature?.fromC),
    temperatureTo: text(temperature?.toC),
    temperatureAsked: temperature?.asked ?? false,
    closingLimit: text(closingLimitUm),
    formLobe: text(form?.lobeUm),
    formOvality: text(form?.ovalityUm),
    formTaper: text(form?.taperUm),
    formFrames: text(form?.frames),
    formSince: form?.since ?? "",
  };
}

/** What is no number becomes one that the schema refuses at its field. */
const typedOrRefused = (text: string): number => readTypedNumber(text) ?? Number.NaN;
const times = (text: string): string[] => text.split(/[;,\s]+/).filter((part) => part !== "");

function framesOf(entry: PlanEntry): DraftPlan["frames"] {
  if (entry.frames === "every") return { kind: "every", n: typedOrRefused(entry.n), firstOff: entry.firstOfBatch };
  return entry.frames === "drawn" ? { kind: "drawn", size: typedOrRefused(entry.size) } : { kind: "all" };
}

function firstOffOf({ firstOff, shiftStarts, fullerPlan }: PlanEntry): { firstOff?: FirstOffRule } {
  const plan = fullerPlan === "" ? {} : { plan: fullerPlan };
  if (firstOff === "none") return {};
  return firstOff === "event"
    ? { firstOff: { each: "event", ...plan } }
    : { firstOff: { each: "shift", starts: times(shiftStarts), ...plan } };
}

function zeroCheckOf({ zeroStarts, zeroHours, zeroFrames }: PlanEntry): { zeroCheck?: ZeroCheckSetting } {
  const rule: ZeroCheckSetting = {
    ...(zeroStarts.trim() === "" ? {} : { starts: times(zeroStarts) }),
    ...(zeroHours.trim() === "" ? {} : { everyHours: typedOrRefused(zeroHours) }),
    ...(zeroFrames.trim() === "" ? {} : { everyFrames: typedOrRefused(zeroFrames) }),
  };
  return Object.keys(rule).length === 0 ? {} : { zeroCheck: rule };
}

/** The entries of a form that was computed; what is typed over one of them is no longer computed. */
export function computedForm(form: NonNullable<PlanSettings["form"]>): Partial<PlanEntry> {
  return {
    formLobe: String(form.lobeUm),
    formOvality: String(form.ovalityUm),
    formTaper: String(form.taperUm),
    formFrames: String(form.frames),
    formSince: form.since ?? "",
  };
}

/** Temperature, closing limit and known form as far as they are typed. */
export function measuringOf(entry: PlanEntry): Pick<PlanSettings, "temperature" | "form" | "closingLimitUm"> {
  const { temperatureFrom, temperatureTo, temperatureAsked, closingLimit } = entry;
  const { formLobe, formOvality, formTaper, formFrames } = entry;
  const isTyped = (...texts: readonly string[]): boolean => texts.some((text) => text.trim() !== "");
  const usual = USUAL_TEMPERATURE_RULE;
  const or = (text: string, otherwise: number): number => (isTyped(text) ? typedOrRefused(text) : otherwise);
  return {
    ...(isTyped(temperatureFrom, temperatureTo) || temperatureAsked
      ? {
          temperature: {
            fromC: or(temperatureFrom, usual.fromC),
            toC: or(temperatureTo, usual.toC),
            asked: temperatureAsked,
          },
        }
      : {}),
    ...(isTyped(closingLimit) ? { closingLimitUm: typedOrRefused(closingLimit) } : {}),
    ...(isTyped(formLobe, formOvality, formTaper, formFrames)
      ? {
          form: {
            lobeUm: typedOrRefused(formLobe),
            ovalityUm: typedOrRefused(formOvality),
            taperUm: typedOrRefused(formTaper),
            frames: typedOrRefused(formFrames),
            ...(entry.formSince === "" ? {} : { since: entry.formSince }),
          },
        }
      : {}),
  };
}

/** The same for the preview of U: nothing while a number is half typed. */
export function typedMeasuring(entry: PlanEntry): ReturnType<typeof measuringOf> {
  const measuring = measuringOf(entry);
  const numbers = [
    measuring.closingLimitUm,
    ...Object.values(measuring.form ?? {}),
    ...Object.values(measuring.temperature ?? {}),
  ];
  return numbers.some((value) => typeof value === "number" && Number.isNaN(value)) ? {} : measuring;
}

/** The form of a plan, read as the plan. */
export function planContentOf(entry: PlanEntry): Omit<DraftPlan, "key" | "revision" | "isNew" | "drawingRevisionId"> {
  return {
    title: entry.title,
    readingNames: [...entry.order],
    frames: framesOf(entry),
    settings: {
      ...firstOffOf(entry),
      ...zeroCheckOf(entry),
      ...measuringOf(entry),
      ...(entry.weakerPlans.length === 0 ? {} : { weakerPlans: [...entry.weakerPlans] }),
    },
  };
}

type ListedPlan = { readonly key: string; readonly title: string; readonly drawingKey: string; readonly state: string };

/** The released plans for a drawing, beside one. */
export function plansFor(
  plans: readonly ListedPlan[],
  drawingKey: string,
  beside = "",
): readonly { readonly key: string; readonly title: string }[] {
  return plans
    .filter((plan) => plan.state === "released" && plan.drawingKey === drawingKey && plan.key !== beside)
    .map(({ key, title }) => ({ key, title }));
}
