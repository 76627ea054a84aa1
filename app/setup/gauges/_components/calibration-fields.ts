import type { EntryField } from "@/lib/ui/entry-form";

/** What a certificate says of a gauge. */
export const CALIBRATION_FIELDS: readonly EntryField[] = [
  { name: "at", label: "calibrated on", kind: "date" },
  { name: "dueAt", label: "due on", kind: "date" },
  { name: "biasUm", label: "bias found, if any", kind: "number", unit: "µm", optional: true },
  { name: "certificate", label: "certificate", kind: "code", optional: true },
];

export const CALIBRATION_DONE = "Entered; it decides what the gauge proves from its day on.";
