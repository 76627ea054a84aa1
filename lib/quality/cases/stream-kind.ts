import { featureNamed, type FeatureName } from "../../core/metrology/features";
import type { Seat } from "../../core/metrology/reading-name";
import type { CaseFeature, CaseUnit, OvalFeature, StreamKind } from "./case";

const OVALS: Readonly<Record<OvalFeature, { readonly seat: Seat; readonly component: string }>> = {
  "ds.oval.12": { seat: "ds", component: "12" },
  "ds.oval.1:30": { seat: "ds", component: "1:30" },
  "nds.oval.12": { seat: "nds", component: "12" },
  "nds.oval.1:30": { seat: "nds", component: "1:30" },
};

function isOval(feature: CaseFeature): feature is OvalFeature {
  return feature in OVALS;
}

/** What a stream is to the table of causes: its kind, its seat, and of a vector the component. Null for what repeats another stream. */
export type StreamRole = {
  readonly kind: StreamKind;
  readonly seat: Seat | null;
  readonly component: string | null;
  readonly unit: CaseUnit;
  /** Units of the stream in one of `unit`: sizes are stored in mm and compared in µm. */
  readonly perUnit: number;
};

function kindOf(feature: FeatureName): StreamKind | null {
  const { characteristic, statistic, seat } = featureNamed(feature);
  switch (characteristic) {
    case "bore":
      return statistic === "mean" ? "bore" : statistic === "range" ? "spread" : null;
    case "width":
      return statistic === "mean" ? "width" : null;
    case "ovality":
    case "taper":
      return characteristic;
    case "coaxiality":
      return statistic === "component" ? "offset" : null;
    case "tilt":
      // The DS tilt is the offset vector seen as an angle.
      return seat === "nds" ? "tilt" : null;
    case "face run-out":
      return "face";
  }
}

/** The role of a feature in cases; null for one that repeats another or carries no level of its own. */
export function streamRole(feature: CaseFeature): StreamRole | null {
  if (isOval(feature)) return { kind: "oval", ...OVALS[feature], unit: "µm", perUnit: 1 };
  const kind = kindOf(feature);
  if (kind === null) return null;
  const { seat, unit } = featureNamed(feature);
  const component = kind !== "offset" ? null : feature === "offset.12" ? "12" : "3";
  return { kind, seat, component, unit: unit === "arcmin" ? "arcmin" : "µm", perUnit: unit === "mm" ? 1e-3 : 1 };
}
