import "server-only";
import { AppError } from "@/lib/errors";
import type { FrameState } from "@/lib/quality/frame-state";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { Viewer } from "../auth/viewer";
import type { CheckedInspection } from "./check-inspection";
import type { OwnFindings } from "./own-findings";

export type InspectionRecorded = {
  readonly id: string;
  readonly serial: string;
  /** "repeated": the same inspection was here already, nothing was written. */
  readonly status: "recorded" | "repeated";
  readonly ordinal: number;
  readonly verdict: Verdict;
  /** Verdict of all valid inspections of the frame together. */
  readonly frameVerdict: Verdict;
  readonly frameState: FrameState;
  readonly held: boolean;
  readonly batch: string;
  readonly batchHeld: boolean;
  /** Characteristics that do not conform, judged on all valid inspections together. */
  readonly reasons: readonly ToldCharacteristic[];
  /** What is doubted of the gauges of this inspection, in words. */
  readonly doubts: readonly string[];
  readonly warnings: readonly string[];
};

export type InspectionRefused = {
  readonly id: string;
  readonly serial: string;
  readonly status: "refused";
  readonly error: AppError;
};

export type RecordingOutcome = InspectionRecorded | InspectionRefused;

/** A checked inspection with its own verdict, computed before the transaction. */
export type JudgedInspection = CheckedInspection & {
  readonly findings: OwnFindings;
  readonly at: number;
  readonly viewer: Viewer;
};
