"use client";

import { useEffect, useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState } from "@/lib/offline/device/line-state";
import { Button, ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { Field } from "@/lib/ui/field";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import styles from "./choose.module.css";

const words = FIRST_SCREEN_WORDS.chooseStation;

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
    <PageFrame head={<PageHead title={words.atWhichStationDoesDevice} lead={words.lead} />}>
      {notice?.tone === "error" ? <ErrorNotice title={notice.text} /> : null}
      {network === "away" || network === "signed out" ? (
        <ErrorNotice
          tone="caution"
          title={network === "away" ? words.serverDoesNotAnswer : words.youAreSignedOut}
          keys={
            network === "away" ? (
              <Button size="touch" onClick={() => void device.loadStations()}>
                {words.tryAgain}
              </Button>
            ) : (
              <ButtonLink size="touch" href="/sign-in?next=/line">
                {words.signIn}
              </ButtonLink>
            )
          }
        >
          <p>{here === undefined ? words.deviceIsSetUpOnce : words.anotherStationIsChosen(here.name)}</p>
        </ErrorNotice>
      ) : null}
      {stations !== null && stations.length === 0 ? (
        <EmptyState title={words.noStationIsInUse}>{words.engineerEntersLinesAndStations}</EmptyState>
      ) : null}
      {deviceName === null ? (
        <div className={styles.naming}>
          <Field id="device-name" label={words.nameOfDevice} hint={words.asPeopleCall}>
            {(control) => (
              <input
                {...control}
                value={name}
                maxLength={100}
                placeholder={words.tablet2}
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
            <Button size="large" kind="go" wide onClick={onDone} detail={words.nothingIsChanged}>
              {words.stayAt(here.name)}
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
                detail={words.lineSeenFromSide(
                  station.line,
                  station.operation,
                  station.viewingSide === "ds" ? words.drive : words.nonDrive,
                )}
              >
                {station.name}
              </Button>
            </li>
          ))}
      </ul>
    </PageFrame>
  );
}
