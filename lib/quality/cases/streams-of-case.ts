import type { FeatureName } from "../../core/metrology/features";
import { alarmKeyOf, type AlarmStream } from "../alarm/alarm-streams";
import type { FoundCase } from "./found-case";

/** The alarm stream under which a charted feature speaks: the tilt of the datum seat is the offset again. */
export function alarmKeyOfChart(feature: FeatureName): AlarmStream["key"] | null {
  return feature === "ds.tilt" ? "offset" : alarmKeyOf(feature);
}

/** What a case is about: the streams that signalled, and those that moved with them. */
export function streamsOfCase(
  found: Pick<FoundCase, "members">,
  signalled: readonly string[],
): ReadonlySet<AlarmStream["key"]> {
  const moved = found.members.map(({ feature }) => feature);
  return new Set([...signalled, ...moved].flatMap((feature) => alarmKeyOf(feature) ?? []));
}
