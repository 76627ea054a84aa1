import { FEATURE_NAMES, type FeatureName } from "../../core/metrology/features";
import { type AlarmedStream, type LineColumns, ZERO_BETWEEN_SHIFTS_MM } from "../alarm/run-line";
import type { CaseFeature, CaseFrame, CaseStream, OvalFeature } from "./case";
import { FEWEST_BASELINE } from "./score-streams";
import { streamRole } from "./stream-kind";

const OVALS: readonly OvalFeature[] = ["ds.oval.12", "ds.oval.1:30", "nds.oval.12", "nds.oval.1:30"];
const CASE_FEATURES: readonly CaseFeature[] = [...FEATURE_NAMES, ...OVALS];

/** The columns of a line, the ovals of its seats among them. */
export type CaseColumns = Omit<LineColumns, "column"> & {
  readonly column: (feature: CaseFeature) => readonly number[];
};

type Alarmed = Pick<AlarmedStream, "stream" | "baseline" | "before">;

/** Frames that show a stream as it was before anything changed. */
function usualFrames(stream: Alarmed | undefined): readonly number[] {
  if (stream === undefined) return [];
  return stream.before.length >= FEWEST_BASELINE ? stream.before : stream.baseline;
}

/** The streams that cases look at, of those that have a value. */
export function caseStreams(columns: CaseColumns, streams: readonly Alarmed[]): CaseStream[] {
  return CASE_FEATURES.flatMap((feature): CaseStream[] => {
    const role = streamRole(feature);
    const column = columns.column(feature);
    if (role === null || column.every(Number.isNaN)) return [];
    const own = streams.find(({ stream }) => stream.key === (role.kind === "offset" ? "offset" : feature));
    // The ovals have no alarm of their own: they have the baseline of the ovality.
    const beside = streams.find(({ stream }) => stream.characteristic === "ovality" && stream.seat === role.seat);
    const guarded = own === undefined || role.kind === "offset" ? null : columns.guarded(own.stream);
    return [
      {
        feature,
        values: column.map((value) => (Number.isNaN(value) ? null : value)),
        baseline: usualFrames(own ?? beside).filter((place) => !Number.isNaN(column[place] ?? Number.NaN)),
        isForm: own?.stream.kind === "form",
        wander: role.kind === "bore" ? ZERO_BETWEEN_SHIFTS_MM : 0,
        lower: guarded?.lower ?? null,
        upper: guarded?.upper ?? null,
      },
    ];
  });
}

/** Judged features of a frame that lie outside a limit. */
export function outsideOf(columns: CaseColumns, streams: readonly Alarmed[], place: number): CaseFrame["outside"] {
  return streams.flatMap(({ stream }): readonly FeatureName[] => {
    if (!columns.isOutside(place, stream)) return [];
    return [stream.key === "offset" ? "coaxiality" : stream.key];
  });
}
