import type { UnseenDirection } from "@/lib/core/metrology/measurement-checks";
import { formatDay } from "@/lib/format/date-text";
import { writeKept } from "../device/device-database";
import type { DeviceCore } from "../device/device-core";
import { type LineState, serverTimeMs, type SweepDirections } from "../device/line-state";

/** How a sweep begins: the question is the same for every section and frame that begins alike. */
const beginningOf = ({ seat, firstDeg }: UnseenDirection): string => `${seat} ${firstDeg.join(" ")}`;

type Here = Pick<LineState, "directions" | "kit" | "settings" | "skew">;

/** The fixture is the station's; its day is the plant's. */
function hereToday({ kit, settings, skew }: Here, deviceMs: number): Pick<SweepDirections, "stationId" | "day"> {
  const day = formatDay(serverTimeMs({ skew }, deviceMs), { zone: kit?.zone ?? "UTC" });
  return { stationId: settings.stationId ?? "", day };
}

function answeredHere(state: Here, deviceMs: number): readonly string[] {
  const { stationId, day } = hereToday(state, deviceMs);
  const { directions } = state;
  return directions?.stationId === stationId && directions.day === day ? directions.answered : [];
}

/** Which way round is still to be asked: once a station and day for each way in which a sweep begins. */
export function directionsToAsk(unseen: readonly UnseenDirection[], state: Here, deviceMs: number): UnseenDirection[] {
  const answered = answeredHere(state, deviceMs);
  return unseen.filter((one) => !answered.includes(beginningOf(one)));
}

/** Somebody said that the sweeps were keyed that way round; kept on the device until the day is over. */
export async function keepDirections(core: DeviceCore, unseen: readonly UnseenDirection[]): Promise<void> {
  const state = core.getState();
  const now = core.now();
  const answered = new Set([...answeredHere(state, now), ...unseen.map(beginningOf)]);
  const directions: SweepDirections = { ...hereToday(state, now), answered: [...answered] };
  await writeKept(core.database, "directions", directions);
  core.set({ directions });
}
