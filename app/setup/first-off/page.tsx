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
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { releaseFirstOffAction } from "../actions";
import styles from "./first-off.module.css";

export const metadata: Metadata = { title: "First-off release" };

type Asked = Exclude<FirstOffState, { state: "not asked" }>;

function State({ state, when }: Readonly<{ state: Asked; when: (time: string) => string }>) {
  const since = keepWhole(`Asked for: ${state.why}, ${when(state.since)}.`);
  if (state.state === "due")
    return (
      <p className={styles.state}>
        <StateMark state="not measured" wordBeside /> <b>The first frame is to be measured.</b> {since}
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
        <StateMark state="conforms" wordBeside /> <b>Released</b> by {state.by} on {frame}, {keepWhole(when(state.at))}.{" "}
        {since} Reason: {state.grounds}
      </p>
    );
  return (
    <p className={styles.state}>
      <StateMark state={state.frame.verdict === "conforms" ? "measured" : "does not conform"} wordBeside />{" "}
      <b>
        {state.frame.verdict === "conforms" ? "Waits for a release." : "Correct the process and measure another frame."}
      </b>{" "}
      Frame {frame} of batch {state.frame.batch}: {state.frame.verdict}, measured{" "}
      {keepWhole(when(state.frame.measuredAt))}. {since}
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
      title={
        waiting === 0
          ? "No line waits for a first-off release"
          : `${waiting} of ${asked.length} wait for their first-off`
      }
      lead="Where a plan asks for it, the first frame of a shift or after an event stands for the line: an engineer looks at it and signs."
    >
      <div className={parts.single}>
        {asked.length === 0 ? (
          <EmptyState title="No plan in use asks for a first-off release">
            An engineer asks for it in the measuring plan: each shift, or after each event on the line.
          </EmptyState>
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
                  { name: "grounds", label: "reason" },
                  {
                    name: "password",
                    label: "your password signs",
                    kind: "password",
                    autoComplete: "current-password",
                  },
                ]}
                action={releaseFirstOffAction}
                submit={`Release ${station.line} on ${state.frame.serial}`}
                done="Released."
              />
            ) : null}
          </section>
        ))}
      </div>
    </SetupPage>
  );
}
