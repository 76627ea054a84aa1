import type { Metadata } from "next";
import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import type { FirstOffState } from "@/lib/schemas/first-off";
import { mayDo } from "@/lib/server/auth/permissions";
import { listStations } from "@/lib/server/line/queries";
import { getFirstOffState } from "@/lib/server/gate/first-off";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { keepWhole } from "@/lib/ui/keep-whole";
import { BATCH_ENTRY_WORDS } from "../words/batches";
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { releaseFirstOffAction } from "../actions";
import styles from "./first-off.module.css";

const words = BATCH_ENTRY_WORDS.firstOff;

export const metadata: Metadata = { title: words.firstOffRelease };

type Asked = Exclude<FirstOffState, { state: "not asked" }>;

function State({ state, when }: Readonly<{ state: Asked; when: (time: string) => string }>) {
  const since = keepWhole(words.askedFor(state.why, when(state.since)));
  if (state.state === "due")
    return (
      <p className={styles.state}>
        <StateMark state="not measured" wordBeside /> <b>{words.firstFrame}</b> {since}
      </p>
    );
  const frame = (
    <Link href={`/frames/${encodeURIComponent(state.frame.serial)}`} className="mono">
      {state.frame.serial}
    </Link>
  );
  if (state.state === "released")
    return (
      <p className={styles.state}>
        <StateMark state="conforms" wordBeside />{" "}
        {words.byOnReason(<b>{words.released}</b>, state.by, frame, keepWhole(when(state.at)), since, state.grounds)}
      </p>
    );
  return (
    <p className={styles.state}>
      <StateMark state={state.frame.verdict === "conforms" ? "measured" : "does not conform"} wordBeside />{" "}
      {words.frameOfBatchMeasured(
        <b>{state.frame.verdict === "conforms" ? words.waitsForRelease : words.correctProcessAndMeasureAnother}</b>,
        frame,
        state.frame.batch,
        state.frame.verdict,
        keepWhole(when(state.frame.measuredAt)),
        since,
      )}
    </p>
  );
}

export default async function FirstOffPage() {
  const viewer = await requireViewer("/setup/first-off", "line.view");
  const stations = await listStations(viewer);
  const { plantZone: zone } = viewer;
  const states = await Promise.all(
    stations.map(async (station) => ({ station, state: await getFirstOffState(viewer, station.id) })),
  );
  const asked = states.flatMap(({ station, state }) => (state.state === "not asked" ? [] : [{ station, state }]));
  const waiting = asked.filter(({ state }) => state.state !== "released").length;
  const when = (time: string) => formatMoment(time, { zone });
  return (
    <SetupPage
      viewer={viewer}
      current="first-off"
      title={waiting === 0 ? words.noLineWaitsForFirst : words.ofWaitForTheirFirst(waiting, asked.length)}
      lead={words.lead}
    >
      <div className={parts.single}>
        {asked.length === 0 ? (
          <EmptyState title={words.noPlanInUseAsks}>{words.engineerAsksForInMeasuring}</EmptyState>
        ) : null}
        {asked.map(({ station, state }) => (
          <section key={station.id} className={styles.station}>
            <SectionHeading aside={station.operation}>
              {station.line}, {station.name}
            </SectionHeading>
            <State state={state} when={when} />
            {state.state === "waiting" &&
            state.frame.verdict === "conforms" &&
            mayDo(viewer, "line.release-first-off") ? (
              <EntryForm
                fields={[
                  { name: "stationId", label: "", kind: "hidden", value: station.id },
                  { name: "inspectionId", label: "", kind: "hidden", value: state.frame.inspectionId },
                  { name: "grounds", label: words.reason },
                  {
                    name: "password",
                    label: words.yourPasswordSigns,
                    kind: "password",
                    autoComplete: "current-password",
                  },
                ]}
                action={releaseFirstOffAction}
                submit={words.releaseOn(station.line, state.frame.serial)}
                done={words.releasedSentence}
              />
            ) : null}
          </section>
        ))}
      </div>
    </SetupPage>
  );
}
