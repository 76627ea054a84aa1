import type { Metadata } from "next";
import Link from "next/link";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { type DeviceItem, listDevices } from "@/lib/server/line/devices";
import { EmptyState } from "@/lib/ui/empty-state";
import { KeyValues } from "@/lib/ui/key-values";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { keepWhole } from "@/lib/ui/keep-whole";
import { SetupPage } from "../_components/setup-page";
import { giveUpFrameAction, renameDeviceAction, restoreDeviceAction, revokeDeviceAction } from "./actions";
import styles from "./devices.module.css";

export const metadata: Metadata = { title: "Devices" };

type Shown = Readonly<{ device: DeviceItem; when: (time: string) => string; nowMs: number }>;

/** What waits on a device, as it said last. */
function queueText({ queue }: DeviceItem, nowMs: number): string {
  if (queue === null) return "it said nothing yet";
  const parts = [
    queue.waiting === 0 ? "" : formatCounted(queue.waiting, "entry", "entries"),
    queue.oldestAt === null
      ? ""
      : `the oldest ${formatDuration(Math.max(0, (nowMs - Date.parse(queue.oldestAt)) / 1000))} old`,
    queue.refused === 0 ? "" : `${queue.refused} refused, to be decided on the device`,
  ].filter((part) => part !== "");
  return parts.length === 0 ? "nothing" : parts.join(", ");
}

/** Under this a difference of clocks would be shown as 0.0 s. */
const SAME_CLOCK_MS = 50;

function clockText({ queue }: DeviceItem): string {
  const skewMs = queue?.clockSkewMs ?? null;
  if (skewMs === null) return "not compared yet";
  if (Math.abs(skewMs) < SAME_CLOCK_MS) return "as the server’s";
  return `${formatFixed(Math.abs(skewMs) / 1000, 1)}\u00a0s ${skewMs < 0 ? "behind" : "ahead of"} the server; corrected`;
}

function Facts({ device, when, nowMs }: Shown) {
  return (
    <KeyValues
      pairs={[
        { label: "waits on it", value: queueText(device, nowMs) },
        { label: "batch in hand", value: device.queue?.batch ?? "none" },
        ...((device.queue?.differences.length ?? 0) > 0
          ? [
              {
                label: "results that differ from the server’s (a fault: report it)",
                value: device.queue?.differences.join(", "),
              },
            ]
          : []),
        { label: "last heard of", value: device.lastSeenAt === null ? "never" : when(device.lastSeenAt) },
        { label: "its clock", value: clockText(device) },
        { label: "registered", value: when(device.since) },
        { label: "key", value: <span className="mono">{device.id}</span> },
      ]}
    />
  );
}

function FramesInHand({ device, when, manages }: Shown & Readonly<{ manages: boolean }>) {
  if (device.frames.length === 0) return null;
  return (
    <>
      <p className={styles.note}>
        {formatCounted(device.frames.length, "frame")} in hand: {device.frames.length === 1 ? "it" : "they"} cannot ship
        until the readings are here or the measuring is given up.
      </p>
      <ul className={styles.frames}>
        {device.frames.map(({ serial, batch, since }) => (
          <li key={serial}>
            <span>
              <Link href={`/frames/${encodeURIComponent(serial)}`} className="mono">
                {serial}
              </Link>{" "}
              of batch {batch}
              {since === null ? "" : keepWhole(`, since ${when(since)}`)}
            </span>
            {manages ? (
              <EntryForm
                inline
                fields={[
                  { name: "serial", label: "", kind: "hidden", value: serial },
                  { name: "reason", label: `give ${serial} up, because` },
                ]}
                action={giveUpFrameAction}
                submit="Give up"
                done="Given up: the frame is free for another device."
              />
            ) : null}
          </li>
        ))}
      </ul>
    </>
  );
}

function Manage({ device }: Readonly<{ device: DeviceItem }>) {
  return (
    <details className={styles.manage}>
      <summary>Name, and taking out of use</summary>
      <EntryForm
        inline
        keep
        fields={[
          { name: "id", label: "", kind: "hidden", value: device.id },
          { name: "name", label: "name", value: device.name },
        ]}
        action={renameDeviceAction}
        submit="Rename"
        done="Renamed."
      />
      {device.revokedAt === null ? (
        <EntryForm
          inline
          fields={[
            { name: "id", label: "", kind: "hidden", value: device.id },
            {
              name: "reason",
              label: "take it out of use, because",
              hint: "The server takes nothing more from it. What is on it stays there and can be saved to a file.",
            },
          ]}
          action={revokeDeviceAction}
          submit="Take out of use"
          done="Out of use."
        />
      ) : (
        <EntryForm
          fields={[{ name: "id", label: "", kind: "hidden", value: device.id }]}
          action={restoreDeviceAction}
          submit="Put back into use"
          done="In use again: what waits on it is sent."
        />
      )}
    </details>
  );
}

function state({ revokedAt, queue, frames }: DeviceItem) {
  if (revokedAt !== null) return <StateMark state="stop" word="out of use" />;
  if ((queue?.refused ?? 0) > 0) return <StateMark state="stop" word="something to decide" />;
  if ((queue?.waiting ?? 0) > 0) return <StateMark state="on device" word="readings on it" />;
  if (frames.length > 0) return <StateMark state="in measurement" word="frame in hand" />;
  return <StateMark state="go" word="all sent" />;
}

export default async function DevicesPage() {
  const viewer = await requireViewer("/setup/devices", "line.view");
  const devices = await listDevices(viewer);
  const { plantZone: zone } = viewer;
  const manages = mayDo(viewer, "line.manage-devices");
  const when = (time: string) => formatMoment(time, { zone });
  const nowMs = new Date().getTime();
  const waiting = devices.filter(({ queue }) => (queue?.waiting ?? 0) + (queue?.refused ?? 0) > 0).length;
  return (
    <SetupPage
      viewer={viewer}
      current="devices"
      title={
        waiting === 0
          ? "No device says that readings wait on it"
          : `Readings wait on ${formatCounted(waiting, "device")}`
      }
      lead="A tablet or PC registers itself when somebody sets it up for a station in Line. It says what waits on it as often as it reaches the server."
    >
      {devices.length === 0 ? (
        <EmptyState title="No device yet">Open Line on a tablet or PC and choose its station.</EmptyState>
      ) : (
        <div className={styles.devices}>
          {devices.map((device) => (
            <section key={device.id} aria-label={`Device ${device.name}`}>
              <SectionHeading aside={device.line === null ? "no station" : `${device.line}, ${device.station}`}>
                {device.name}
              </SectionHeading>
              <p className={styles.state}>{state(device)}</p>
              <Facts device={device} when={when} nowMs={nowMs} />
              <FramesInHand device={device} when={when} nowMs={nowMs} manages={manages} />
              {manages ? <Manage device={device} /> : null}
            </section>
          ))}
        </div>
      )}
    </SetupPage>
  );
}
