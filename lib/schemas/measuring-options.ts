import type { MeasuringOptions } from "../core/metrology/measure-frame";
import type { PlanSettings } from "./plan";

/** The part of a plan's settings by which its readings are measured and judged. */
export function measuringOptions(
  settings: Pick<PlanSettings, "temperature" | "form" | "closingLimitUm"> | undefined | null,
): MeasuringOptions {
  const { temperature, form, closingLimitUm } = settings ?? {};
  return {
    ...(temperature === undefined ? {} : { temperature }),
    ...(form === undefined ? {} : { form }),
    ...(closingLimitUm === undefined ? {} : { closingLimitUm }),
  };
}
