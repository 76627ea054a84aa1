import type { EntryField } from "@/lib/ui/entry-form";
import { GAUGE_WORDS } from "../../words/gauges";

const words = GAUGE_WORDS.calibration;

/** What a certificate says of a gauge. */
export const CALIBRATION_FIELDS: readonly EntryField[] = [
  { name: "at", label: words.calibratedOn, kind: "date" },
  { name: "dueAt", label: words.dueOn, kind: "date" },
  { name: "biasUm", label: words.biasFoundIfAny, kind: "number", unit: "µm", optional: true },
  { name: "certificate", label: words.certificate, kind: "code", optional: true },
];

export const CALIBRATION_DONE = words.enteredDecidesWhatGaugeProves;
