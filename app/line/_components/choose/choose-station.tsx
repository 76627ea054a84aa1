"use client";

import { useEffect, useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState } from "@/lib/offline/device/line-state";
import { Button, ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { Field } from "@/lib/ui/field";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import styles from "./choose.module.css";

/** Set-up of the device: at which station it stands. Remembered from then on. */
export function ChooseStation({
  device,
  state,
  onDone,
}: Readonly<{ device: LineDevice; state: LineState; onDone: () => void }>) {
  useEffect(() => {
    void device.loadStations();
  }, [device]);
  const [name, setName] = useState("");
  const { stations, notice, network, kit, settings, deviceName } = state;
  const here = settings.stationId === null ? undefined : kit?.station;
  const choose = async (id: string): Promise<void> => {
    if (await device.chooseStation(id, name)) onDone();
  };
  return (
    <PageFrame
      head={
        <PageHead
          title="At which station does this device stand?"
          lead="Asked once: the device remembers it, with plans, batches and gauges, and works on without the network."
        />
      }
    >
      {notice?.tone === "error" ? <ErrorNotice title={notice.text} /> : null}
      {network === "away" || network === "signed out" ? (
        <ErrorNotice
          tone="caution"
          title={network === "away" ? "The server does not answer" : "You are signed out"}
          keys={
            network === "away" ? (
              <Button size="touch" onClick={() => void device.loadStations()}>
                Try again
              </Button>
            ) : (
              <ButtonLink size="touch" href="/sign-in?next=/line">
                Sign in
              </ButtonLink>
            )
          }
        >
          <p>
            {here === undefined
              ? "A device is set up once with the network; after that it starts without."
              : `Another station is chosen with the network. This device stays at ${here.name} until then, and everything on it stays.`}
          </p>
        </ErrorNotice>
      ) : null}
      {stations !== null && stations.length === 0 ? (
        <EmptyState title="No station is in use">An engineer enters lines and stations in Setup.</EmptyState>
      ) : null}
      {deviceName === null ? (
        <div className={styles.naming}>
          <Field
            id="device-name"
            label="Name of this device"
            hint="As people call it, or as it is written on it: others see it where this device has a frame or a batch in hand."
          >
            {(control) => (
              <input
                {...control}
                value={name}
                maxLength={100}
                placeholder="Tablet 2"
                autoComplete="off"
                onChange={(event) => setName(event.target.value)}
              />
            )}
          </Field>
        </div>
      ) : null}
      <ul className={styles.stations}>
        {here === undefined ? null : (
          <li>
            <Button size="large" kind="go" wide onClick={onDone} detail="nothing is changed">
              Stay at {here.name}
            </Button>
          </li>
        )}
        {(stations ?? [])
          .filter(({ id }) => id !== here?.id)
          .map((station) => (
            <li key={station.id}>
              <Button
                size="large"
                wide
                onClick={() => void choose(station.id)}
                detail={`line ${station.line}, ${station.operation}, seen from the ${station.viewingSide === "ds" ? "drive" : "non-drive"} side`}
              >
                {station.name}
              </Button>
            </li>
          ))}
      </ul>
    </PageFrame>
  );
}
