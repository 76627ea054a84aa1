import type { Metadata } from "next";
import Link from "next/link";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatFixed } from "@/lib/format/number-text";
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
import { PLANT_WORDS } from "../words/plant";
import styles from "./devices.module.css";

const words = PLANT_WORDS.devices;

export const metadata: Metadata = { title: words.devices };

type Shown = Readonly<{ device: DeviceItem; when: (time: string) => string; nowMs: number }>;

/** What waits on a device, as it said last. */
function queueText({ queue }: DeviceItem, nowMs: number): string {
  if (queue === null) return words.saidNothingYet;
  const parts = [
    queue.waiting === 0 ? "" : words.entries(queue.waiting),
    queue.oldestAt === null
      ? ""
      : words.oldestOld(formatDuration(Math.max(0, (nowMs - Date.parse(queue.oldestAt)) / 1000))),
    queue.refused === 0 ? "" : words.refusedToBeDecided(queue.refused),
  ].filter((part) => part !== "");
  return parts.length === 0 ? "nothing" : parts.join(", ");
}

/** Under this a difference of clocks would be shown as 0.0 s. */
const SAME_CLOCK_MS = 50;

function clockText({ queue }: DeviceItem): string {
  const skewMs = queue?.clockSkewMs ?? null;
  if (skewMs === null) return words.notComparedYet;
  if (Math.abs(skewMs) < SAME_CLOCK_MS) return words.asServers;
  return words.sServerCorrected(formatFixed(Math.abs(skewMs) / 1000, 1), skewMs < 0 ? words.behind : words.aheadOf);
}

function Facts({ device, when, nowMs }: Shown) {
  return (
    <KeyValues
      pairs={[
        { label: words.waitsOn, value: queueText(device, nowMs) },
        { label: words.batchInHand, value: device.queue?.batch ?? "none" },
        ...((device.queue?.differences.length ?? 0) > 0
          ? [
              {
                label: words.resultsDifferFromServersFault,
                value: device.queue?.differences.join(", "),
              },
            ]
          : []),
        { label: words.lastHeardOf, value: device.lastSeenAt === null ? "never" : when(device.lastSeenAt) },
        { label: words.itsClock, value: clockText(device) },
        { label: words.registered, value: when(device.since) },
        { label: words.key, value: <span className="mono">{device.id}</span> },
      ]}
    />
  );
}

function FramesInHand({ device, when, manages }: Shown & Readonly<{ manages: boolean }>) {
  if (device.frames.length === 0) return null;
  return (
    <>
      <p className={styles.note}>
        {words.inHand(device.frames.length, device.frames.length === 1 ? words.it : words.they)}
      </p>
      <ul className={styles.frames}>
        {device.frames.map(({ serial, batch, since }) => (
          <li key={serial}>
            <span>
              {words.ofBatch(
                <Link href={`/frames/${encodeURIComponent(serial)}`} className="mono">
                  {serial}
                </Link>,
                batch,
                since === null ? "" : keepWhole(words.sinceSince(when(since))),
              )}
            </span>
            {manages ? (
              <EntryForm
                inline
                fields={[
                  { name: "serial", label: "", kind: "hidden", value: serial },
                  { name: "reason", label: words.giveUpBecause(serial) },
                ]}
                action={giveUpFrameAction}
                submit={words.giveUp}
                done={words.givenUp}
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
      <summary>{words.nameAndTakingOut}</summary>
      <EntryForm
        inline
        keep
        fields={[
          { name: "id", label: "", kind: "hidden", value: device.id },
          { name: "name", label: words.name, value: device.name },
        ]}
        action={renameDeviceAction}
        submit={words.rename}
        done={words.renamed}
      />
      {device.revokedAt === null ? (
        <EntryForm
          inline
          fields={[
            { name: "id", label: "", kind: "hidden", value: device.id },
            {
              name: "reason",
              label: words.takeOutOfUse,
              hint: words.serverTakesNothingMoreFrom,
            },
          ]}
          action={revokeDeviceAction}
          submit={words.takeOutOfUseHeading}
          done={words.outOfUse}
        />
      ) : (
        <EntryForm
          fields={[{ name: "id", label: "", kind: "hidden", value: device.id }]}
          action={restoreDeviceAction}
          submit={words.putBackIntoUse}
          done={words.inUseAgain}
        />
      )}
    </details>
  );
}

function state({ revokedAt, queue, frames }: DeviceItem) {
  if (revokedAt !== null) return <StateMark state="stop" word={words.outOfUseLabel} />;
  if ((queue?.refused ?? 0) > 0) return <StateMark state="stop" word={words.somethingToDecide} />;
  if ((queue?.waiting ?? 0) > 0) return <StateMark state="on device" word={words.readingsOn} />;
  if (frames.length > 0) return <StateMark state="in measurement" word={words.frameInHand} />;
  return <StateMark state="go" word={words.allSent} />;
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
      title={waiting === 0 ? words.noDeviceSaysReadingsWait : words.readingsWaitOn(waiting)}
      lead={words.lead}
    >
      {devices.length === 0 ? (
        <EmptyState title={words.noDeviceYet}>{words.openLineOnTablet}</EmptyState>
      ) : (
        <div className={styles.devices}>
          {devices.map((device) => (
            <section key={device.id} aria-label={words.device(device.name)}>
              <SectionHeading aside={device.line === null ? words.noStation : `${device.line}, ${device.station}`}>
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
