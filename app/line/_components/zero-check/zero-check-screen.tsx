"use client";

import { toDecimals } from "@/lib/core/numerics/decimal-digits";
import { useCallback, useState } from "react";
import { formatMoment } from "@/lib/format/date-text";
import { formatDeviationUm, formatFixed, withUnit } from "@/lib/format/number-text";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState, ZeroEntry } from "@/lib/offline/device/line-state";
import { zeroText } from "@/lib/offline/device/station-gauges";
import {
  allowedText,
  type Comparator,
  comparatorOf,
  keyedZero,
  type ZeroEntryUnit,
} from "@/lib/offline/device/zero-check";
import type { StationGauge } from "@/lib/schemas/station-package";
import { Button } from "@/lib/ui/button";
import { DeviationBar } from "@/lib/ui/deviation-bar";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { EarlyKeys } from "../parts/early-keys";
import { Keypad } from "../parts/keypad";
import { QueueBox } from "../queue/queue-box";
import { ReadingField } from "../parts/reading-field";
import { RingDrawing } from "./ring-drawing";
import { useTypedText } from "../parts/use-typed-text";
import { ZeroFailed } from "./zero-failed";
import { ZERO_CHECK_WORDS } from "../../words/zero-check";
import ask from "../parts/ask.module.css";
import parts from "../parts/parts.module.css";
import screen from "../parts/screen.module.css";

const words = ZERO_CHECK_WORDS.screen;

type ZeroCheckScreenProps = Readonly<{ device: LineDevice; state: LineState; zero: ZeroEntry; inspector: string }>;

/** A comparator is shown its setting ring: what it shows, and whether it may go on measuring. */
export function ZeroCheckScreen({ device, state, zero, inspector }: ZeroCheckScreenProps) {
  const { kit, settings } = state;
  const gauge = kit?.gauges.find((one) => one.key === zero.gauge);
  const comparator = comparatorOf(gauge);
  if (gauge === undefined || comparator === null) return null;
  const { decimal } = settings;
  const size = withUnit(formatFixed(comparator.certifiedMm, 4, decimal), "mm");
  return (
    <main id="main" className={screen.screen}>
      <header className={screen.head}>
        <p className={screen.serial}>{gauge.key}</p>
        <div className={screen.place}>
          <p>{words.ofWhy(<b>{words.zeroCheck}</b>, gauge.name, zero.why === null ? "" : `: ${zero.why}`)}</p>
          {zero.then === null ? null : <p>{words.frameStartsAfter(zero.then.serial)}</p>}
        </div>
        <QueueBox device={device} state={state} />
      </header>
      {zero.failed === null ? (
        <div className={screen.work}>
          <section className={screen.sheet} aria-label={words.settingRing}>
            <div className={screen.drawing}>
              <RingDrawing ring={comparator.ring} size={size} allowed={allowedText(comparator, "size", decimal)} />
            </div>
          </section>
          <ZeroAsk device={device} state={state} zero={zero} gauge={gauge} comparator={comparator} />
        </div>
      ) : (
        <ZeroFailed device={device} state={state} failed={zero.failed} waits={zero.then?.serial ?? null} />
      )}
      <TitleBlock
        touch
        cells={[
          { label: words.settingRingCertified, value: `${comparator.ring}, ${size}` },
          { label: words.mayShow, value: allowedText(comparator, "size", decimal) },
          {
            label: zero.failed === null ? words.before : words.now,
            value: zeroText(gauge, kit?.zone ?? "UTC", decimal) ?? words.neverChecked,
          },
          {
            label: words.lastGoodOne,
            value: gauge.zero?.lastGoodAt ? formatMoment(gauge.zero.lastGoodAt, { zone: kit?.zone ?? "UTC" }) : "none",
          },
          { label: words.occasion, value: zero.occasion },
          { label: words.inspector, value: inspector },
        ]}
      />
    </main>
  );
}

type ZeroAskProps = Readonly<{
  device: LineDevice;
  state: LineState;
  zero: ZeroEntry;
  gauge: StationGauge;
  comparator: Comparator;
}>;

function ZeroAsk({ device, state, zero, gauge, comparator }: ZeroAskProps) {
  const { text, setText, early } = useTypedText(`zero ${gauge.key}`);
  const [keypad, setKeypad] = useState(false);
  const { decimal, boreEntry, smallUnit } = state.settings;
  const entry = gauge.kind === "bore" && boreEntry === "deviation" ? smallUnit : "size";
  const unit = entry === "size" ? "mm" : entry;
  const commit = useCallback(
    (keyed: string) => {
      setText("");
      void device.enter(keyed, `zero ${gauge.key}`);
    },
    [device, gauge.key, setText],
  );
  const leave = (act: "later" | "back"): void => {
    setText("");
    void (act === "back" || zero.then === null ? device.dropZero() : device.leaveZero());
  };
  const size = withUnit(formatFixed(comparator.certifiedMm, 4, decimal), "mm");
  return (
    <section className={ask.ask} aria-label={words.zeroCheck}>
      <h1 className={ask.askTitle}>{words.showRing(gauge.key)}</h1>
      <p className={ask.askDetail}>
        {words.certifiedMayShow(comparator.ring, size, allowedText(comparator, entry, decimal))}
      </p>
      <ReadingField
        label={words.whatShowsInRingIn(gauge.key, comparator.ring, unit)}
        unit={unit}
        text={text}
        keypad={keypad}
        invalid={zero.refusal !== null}
        busy={false}
        asked={zero}
        onText={setText}
        onCommit={commit}
        onEscape={() => {
          leave("back");
          return true;
        }}
      />
      <div id="reading-answer" className={ask.answer}>
        {early !== "" ? <EarlyKeys text={early} what={words.theZeroCheck} /> : null}
        <ZeroAnswer zero={zero} comparator={comparator} text={text} entry={entry} decimal={decimal} />
      </div>
      <Button
        kind="go"
        size="large"
        wide
        keyHint="Enter"
        onMouseDown={(event) => event.preventDefault()}
        onClick={() => commit(text)}
      >
        {zero.question !== null && text === "" ? words.yes : words.keepZeroCheck}
      </Button>
      <div className={ask.askKeys}>
        <Button size="touch" onClick={() => leave("later")}>
          {zero.then === null ? words.leaveIt : words.measureFirst}
        </Button>
        {zero.then === null ? null : (
          <Button size="touch" onClick={() => leave("back")}>
            {words.back}
          </Button>
        )}
        <Button size="touch" aria-pressed={keypad} onClick={() => setKeypad(!keypad)}>
          {words.keypad}
        </Button>
      </div>
      {keypad ? <Keypad text={text} decimal={decimal} signed={entry !== "size"} onChange={setText} /> : null}
    </section>
  );
}

type ZeroAnswerProps = Readonly<{
  zero: ZeroEntry;
  comparator: Comparator;
  text: string;
  entry: ZeroEntryUnit;
  decimal: "." | ",";
}>;

/** What the number being keyed says of the gauge. */
function ZeroAnswer({ zero, comparator, text, entry, decimal }: ZeroAnswerProps) {
  const { certifiedMm, limitUm } = comparator;
  if (zero.question !== null && text === "")
    return (
      <div className={parts.question} role="alert">
        <p>
          {words.decimalSignIsMissing(<b>{words.meant(withUnit(formatFixed(zero.question, 4, decimal), "mm"))}</b>)}
        </p>
      </div>
    );
  if (zero.refusal !== null && text === "")
    return (
      <p className={parts.refusal} role="alert">
        {zero.refusal}
      </p>
    );
  const keyed = text.trim() === "" ? null : keyedZero(text, comparator, entry, decimal);
  const shown = keyed?.kind === "reading" ? keyed.readingMm : null;
  const driftUm = shown === null ? null : toDecimals((shown - certifiedMm) * 1000, 6);
  return (
    <>
      <p className={ask.live} role="status">
        {driftUm === null ? (
          <span className={ask.liveWord}>{text === "" ? words.noReadingYet : " "}</span>
        ) : (
          <>
            <StateMark
              state={Math.abs(driftUm) <= limitUm ? "conforms" : "does not conform"}
              word={Math.abs(driftUm) <= limitUm ? words.passes : words.fails}
              size="l"
            />
            <b>{formatDeviationUm(driftUm, 1, decimal)}</b>
          </>
        )}
      </p>
      <DeviationBar
        lower={certifiedMm - limitUm / 1000}
        upper={certifiedMm + limitUm / 1000}
        target={null}
        unit="mm"
        guard={0}
        value={shown}
        kept={[]}
        decimal={decimal}
      />
    </>
  );
}
