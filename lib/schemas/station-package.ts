import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { PlannedFrames } from "@/lib/core/sampling/planned-frames";
import type { GaugeRange } from "@/lib/core/metrology/gauge-range";
import type { CalibrationSpan } from "@/lib/core/metrology/calibration-in-force";
import type { FrameState } from "@/lib/quality/frame-state";
import type { FirstOffState } from "./first-off";
import type { PlanSettings } from "./plan";

export type StationItem = {
  readonly id: string;
  readonly key: string;
  readonly name: string;
  readonly line: string;
  readonly lineId: string;
  readonly operation: string;
  readonly viewingSide: "ds" | "nds";
};

/** A device that has a batch in hand; since when, ISO 8601, where it said so. */
export type BatchHolder = { readonly id: string; readonly name: string; readonly since?: string | null };

export type StationBatch = {
  readonly id: string;
  readonly key: string;
  readonly supplier: string;
  readonly model: string;
  readonly planId: string;
  readonly held: boolean;
  readonly frames: number;
  readonly measured: number;
  /** Devices that have it in hand now. Absent in kits kept by earlier versions. */
  readonly devices?: readonly BatchHolder[];
};

export type StationPlan = {
  readonly planRevisionId: string;
  readonly planId: string;
  readonly planKey: string;
  readonly title: string;
  readonly revision: string;
  readonly drawingId: string;
  readonly drawing: ShellDrawing;
  readonly readingNames: readonly string[];
  readonly frames: PlannedFrames;
  /** Absent in kits kept by earlier versions. */
  readonly settings?: PlanSettings;
};

/** The line of a frame that is shown at another line's station, and the plan of its batch; null where none is released. */
export type OtherLine = { readonly line: string; readonly plan: StationPlan | null };

/** A comparator's setting ring and how its zero checks stand; times ISO 8601, null where there was none. */
export type GaugeZero = {
  readonly ring: string;
  readonly limitUm: number;
  readonly lastAt: string | null;
  /** Its newest good check or calibration. */
  readonly lastGoodAt: string | null;
  /** What the last one showed less what the ring is, µm. */
  readonly lastDriftUm: number | null;
};

export type StationGauge = {
  readonly key: string;
  readonly name: string;
  readonly kind: "bore" | "sweep" | "face" | "width" | "plug" | "bar";
  readonly principle: string;
  readonly resolutionUm: number;
  /** What it can show; null where nobody entered it. Absent in kits kept by earlier versions. */
  readonly range?: GaugeRange | null;
  /** Certified size of its setting ring; null where it has none. */
  readonly ringMm: number | null;
  /** As things stood when the package was made. */
  readonly calibratedUntil: string | null;
  readonly overdue: boolean;
  /** Newest first: by them each reading is judged at its own time. Absent in kits kept by earlier versions. */
  readonly calibrations?: readonly CalibrationSpan[];
  /** Its last zero check failed: what it shows proves nothing until a good one. Absent in kits kept by earlier versions. */
  readonly zeroFailed?: boolean;
  /** Null where it has no setting ring. Absent in kits kept by earlier versions. */
  readonly zero?: GaugeZero | null;
};

/** Everything a device needs at one station, also when the network is gone. */
export type StationPackage = {
  readonly station: StationItem;
  readonly batches: readonly StationBatch[];
  readonly plans: readonly StationPlan[];
  readonly gauges: readonly StationGauge[];
  readonly inspectors: readonly { readonly name: string; readonly badgeCode: string }[];
  /** Who is signed in, with the code that readings name; null for a program. Absent in kits kept by earlier versions. */
  readonly viewer?: { readonly name: string; readonly code: string } | null;
  /** The plant's time zone: shifts begin by it. Absent in kits kept by earlier versions. */
  readonly zone?: string;
  /** The server's clock, milliseconds since 1970: the device measures its distance from it. */
  readonly serverTime: number;
};

export type StationFrame = {
  readonly serial: string;
  readonly position: number;
  readonly mould: string | null;
  readonly state: FrameState;
  readonly verdict: string | null;
  readonly inspections: number;
  readonly leaseDeviceId: string | null;
  /** Whether the plan asks for this frame. Absent in kits kept by earlier versions: it does. */
  readonly planned?: boolean;
};

/** A station's package as its device keeps it, with the frames of its open batches. */
export type StationKit = StationPackage & {
  readonly frames: readonly { readonly batch: string; readonly frames: readonly StationFrame[] }[];
  /** How the line stands with its first-off. Absent in kits kept by earlier versions. */
  readonly firstOff?: FirstOffState;
  /** Build of the program that the server runs; null in development. */
  readonly build: string | null;
};
