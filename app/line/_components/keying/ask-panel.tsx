"use client";

import { memo, useCallback, useState } from "react";
import type { OffScale } from "@/lib/core/metrology/gauge-range";
import { READING_UNIT, type BarPassage, type PlugFeel } from "@/lib/core/metrology/reading-name";
import { formatDeviationUm, formatSigned, withUnit } from "@/lib/format/number-text";
import { type ParsedDecimal, parseDecimal } from "@/lib/format/parse-decimal";
import { formatDepth, formatReading } from "@/lib/format/reading-text";
import {
  isDeviation,
  keyedUnit,
  keyedValue,
  type KeyingPlan,
  type KeyingSession,
  sweepWith,
  temperatureDue,
} from "@/lib/offline/device/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState } from "@/lib/offline/device/line-state";
import { guardBand } from "@/lib/quality/conformity";
import { judgeReading } from "@/lib/quality/judge-reading";
import type { Verdict } from "@/lib/quality/verdict-words";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { DeviationBar } from "@/lib/ui/deviation-bar";
import { StateMark } from "@/lib/ui/state-mark";
import { AskedAgain } from "./asked-again";
import { AskedQuestion } from "./asked-question";
import { earlyText } from "../parts/early-keys";
import { Keypad } from "../parts/keypad";
import { countsOf, keptText, type KeyingView, limitsOf, readingText, verdictOf } from "./keying-view";
import { KIND_WORDS } from "../parts/kind-words";
import { LiveSweep } from "./live-sweep";
import { PhotoKey } from "./photo-key";
import { ReadingField } from "../parts/reading-field";
import { ReasonDialog } from "../parts/reason-dialog";
import { RemarkDialog } from "./remark-dialog";
import { TemperatureAsk } from "./temperature-ask";
import { useTypedText } from "../parts/use-typed-text";
import { WordKeys } from "./word-keys";
import { KEYING_WORDS } from "../../words/keying";
import ask from "../parts/ask.module.css";
import parts from "../parts/parts.module.css";
import styles from "./keying.module.css";

const texts = KEYING_WORDS.askPanel;

type AskPanelProps = Readonly<{
  device: LineDevice;
  session: KeyingSession;
  plan: KeyingPlan;
  view: KeyingView;
  notice: LineState["notice"];
  /** The gauge in hand, and what is against it. */
  gauge: { readonly key: string; readonly doubt: string | null; readonly hasRing: boolean } | null;
  onGauges: () => void;
}>;

const CORRECTION_REASONS = [texts.keyedWrongly, texts.gaugeNotSeated, texts.chipsOrDirtInWay, texts.measuredAgain];
const CANNOT_REASONS = [texts.gaugeDoesNotReach, texts.seatIsDamaged, texts.paintOrBurrInWay, texts.gaugeOutOfOrder];

/** A bore that its gauge cannot show is no reading that cannot be taken: it has a verdict. */
const OFF_SCALE_REASONS: ReadonlyMap<string, OffScale> = new Map([
  [texts.tooLargeForGauge, "large"],
  [texts.tooSmallForGauge, "small"],
]);

/** The question of the screen: where to measure, the number, and what it is worth. */
export const AskPanel = memo(function AskPanel({
  device,
  session,
  plan,
  view,
  notice,
  gauge,
  onGauges,
}: AskPanelProps) {
  const [dialog, setDialog] = useState<"cannot" | "remark" | "more" | null>(null);
  const [keypad, setKeypad] = useState(false);
  const index = view.asked;
  const name = index === null ? undefined : plan.names[index];
  const unit = name === undefined ? null : keyedUnit(plan, name);
  const busy = dialog !== null || session.correction !== null;
  const { text, setText, early } = useTypedText(name !== undefined && unit === null ? "word" : "reading");

  const { again = null } = session;
  const correcting =
    again === null && session.question === null && index !== null && (view.readings[index] ?? null) !== null;
  const commit = useCallback(
    (keyed: string) => {
      if (keyed.trim() === "") {
        if (session.question !== null || again !== null) void device.key({ type: "yes" });
        else if (correcting) void device.key({ type: "go on" });
        return;
      }
      // In this order both are drawn at once: the device answers before the field is drawn empty.
      void device.enter(keyed, "reading");
      setText("");
    },
    [device, session.question, again, correcting, setText],
  );
  const goOn = useCallback(() => void device.key({ type: "go on" }), [device]);

  if (index === null || name === undefined)
    return temperatureDue(session, plan) ? <TemperatureAsk device={device} session={session} /> : null;
  const words = formatReading(name, view.side, view.decimal);
  const fromRing = name.kind === "bore" && isDeviation(plan, name);
  return (
    <section
      className={keypad && unit !== null ? `${ask.ask} ${styles.askWithKeypad}` : ask.ask}
      aria-label={texts.askedReading}
    >
      <h1 className={ask.askTitle}>{words.title}</h1>
      <p className={ask.askDetail}>
        {texts.readingOf(
          detailOf(name, view),
          fromRing ? texts.ring : "",
          index + 1,
          plan.names.length,
          session.reason === null ? "" : texts.measuredAgainReason(session.reason),
        )}
      </p>
      {gauge !== null && gauge.doubt !== null ? (
        <p className={styles.doubtful} role="note">
          <StateMark state="not proven" size="s" wordBeside />{" "}
          <span>{texts.provesNothing(gauge.key, gauge.doubt)}</span>
        </p>
      ) : null}
      {unit === null ? (
        <WordKeys
          key={index}
          kind={name.kind === "bar" ? "bar" : name.kind === "plug" && name.across === true ? "rod" : "plug"}
          side={view.side}
          onWord={(word: PlugFeel | BarPassage) =>
            void device.key({ type: "word", word, index, offsetMs: offsetOf(session) })
          }
          onCode={(code) => void device.enter(code, "word")}
        />
      ) : (
        <ReadingField
          label={texts.inUnit(words.title, words.detail, fromRing ? texts.deviationFromSettingRing : "", unit)}
          unit={unit}
          text={text}
          placeholder={correcting ? (keptText(view, index) ?? "") : ""}
          keypad={keypad}
          invalid={session.refusal !== null}
          busy={busy}
          asked={index}
          onText={setText}
          onCommit={commit}
          onEscape={() => {
            if (session.question !== null) void device.key({ type: "no" });
            return session.question !== null;
          }}
        />
      )}
      <div id="reading-answer" className={unit === null ? undefined : ask.answer}>
        {again !== null ? (
          <AskedAgain device={device} again={again} refusal={session.refusal} side={view.side} decimal={view.decimal} />
        ) : session.question !== null && text === "" ? (
          <AskedQuestion
            device={device}
            question={session.question}
            refusal={session.refusal}
            decimal={view.decimal}
            isBore={plan.names[session.question.index]?.kind === "bore"}
          />
        ) : (
          <LiveAnswer
            session={session}
            plan={plan}
            view={view}
            text={text}
            keypad={keypad}
            notice={early === "" ? notice : earlyNotice(early)}
          />
        )}
      </div>
      {unit === null || again !== null || (session.question !== null && text === "") ? null : (
        <Button
          kind="go"
          size="large"
          wide
          keyHint="Enter"
          onMouseDown={(event) => event.preventDefault()}
          onClick={() => commit(text)}
        >
          {text === "" && correcting ? texts.goOn : texts.keepReading}
        </Button>
      )}
      <AskKeys device={device} numbers={unit !== null} keypad={keypad} onKeypad={setKeypad} onDialog={setDialog} />
      {keypad && unit !== null ? (
        <Keypad text={text} decimal={view.decimal} signed={isDeviation(plan, name)} onChange={setText} />
      ) : null}
      <NextSteps
        view={view}
        index={index}
        back={correcting && unit === null}
        short={
          keypad || notice !== null || again !== null || session.question !== null || (gauge?.doubt ?? null) !== null
        }
        onGoOn={goOn}
      />
      {session.correction === null ? null : (
        <ReasonDialog
          title={texts.isKeptAlready(keptWithUnit(plan, view, session.correction))}
          reasons={CORRECTION_REASONS}
          onReason={(reason) => void device.key({ type: "reason", reason })}
          onClose={() => void device.key({ type: "no" })}
        >
          <p>{texts.newIs(keptWithUnit(plan, view, session.correction, session.correction.reading))}</p>
        </ReasonDialog>
      )}
      {dialog === "cannot" ? (
        <ReasonDialog
          title={texts.readingCannotBeTaken}
          reasons={name.kind === "bore" ? [...CANNOT_REASONS, ...OFF_SCALE_REASONS.keys()] : CANNOT_REASONS}
          onReason={(reason) => {
            setDialog(null);
            const side = name.kind === "bore" ? OFF_SCALE_REASONS.get(reason) : undefined;
            void device.key(side === undefined ? { type: "cannot", reason } : { type: "off scale", side });
          }}
          onClose={() => setDialog(null)}
        >
          <p>{texts.whatDependsOnIsThen(name.kind === "bore" ? texts.boreIsOffScale : "")}</p>
        </ReasonDialog>
      ) : null}
      {dialog === "more" ? (
        <Dialog
          open
          title={texts.frame(session.serial)}
          onClose={() => setDialog(null)}
          keys={
            <>
              <Button kind="go" size="touch" onClick={() => setDialog("remark")}>
                {session.remark === "" ? texts.writeRemark : texts.changeRemark}
              </Button>
              <PhotoKey device={device} onKept={() => setDialog(null)} />
              <Button
                size="touch"
                onClick={() => {
                  setDialog(null);
                  onGauges();
                }}
              >
                {texts.gauges}
              </Button>
              {gauge?.hasRing ? (
                <Button
                  size="touch"
                  onClick={() => {
                    setText("");
                    void device.checkZero(gauge.key, true);
                  }}
                >
                  {texts.wasKnocked(gauge.key)}
                </Button>
              ) : null}
              <Button
                size="touch"
                onClick={() => {
                  setText("");
                  void device.putAside();
                }}
              >
                {texts.putFrameAside}
              </Button>
              <Button size="touch" onClick={() => setDialog(null)}>
                {texts.back}
              </Button>
            </>
          }
        >
          <p>{texts.putAside}</p>
        </Dialog>
      ) : null}
      {dialog === "remark" ? (
        <RemarkDialog
          remark={session.remark}
          onKeep={(remark) => {
            void device.key({ type: "remark", text: remark });
            setDialog(null);
          }}
          onClose={() => setDialog(null)}
        />
      ) : null}
    </section>
  );
});

type AskKeysProps = Readonly<{
  device: LineDevice;
  /** A number is asked for: words have keys of their own. */
  numbers: boolean;
  keypad: boolean;
  onKeypad: (shown: boolean) => void;
  onDialog: (dialog: "cannot" | "more") => void;
}>;

const AskKeys = memo(function AskKeys({ device, numbers, keypad, onKeypad, onDialog }: AskKeysProps) {
  return (
    <div className={ask.askKeys}>
      <Button size="touch" onClick={() => void device.key({ type: "back" })}>
        {texts.takeBack}
      </Button>
      <Button size="touch" onClick={() => onDialog("cannot")}>
        {texts.skipReading}
      </Button>
      {numbers ? (
        <Button size="touch" aria-pressed={keypad} onClick={() => onKeypad(!keypad)}>
          {texts.keypad}
        </Button>
      ) : null}
      <Button size="touch" onClick={() => onDialog("more")}>
        {texts.more}
      </Button>
    </div>
  );
});

/** How to measure, short enough for one line: the drawing says the rest. */
function detailOf(name: KeyingView["names"][number], view: KeyingView): string {
  if (name.kind === "sweep")
    return texts.deep(formatDepth(name.depthMm, view.decimal), name.angleDeg === 360 ? texts.closing : "");
  // The words of what is felt stand on their keys.
  if (name.kind === "plug") return name.across === true ? texts.acrossInEveryDirection : texts.alongSeat;
  if (name.kind === "bar") return texts.throughBothSeats;
  return formatReading(name, view.side, view.decimal).detail;
}

/** What is kept at the place of a correction, or what it becomes, with its unit: "40.940 mm", "“hand pressure”". */
function keptWithUnit(
  plan: KeyingPlan,
  view: KeyingView,
  { index }: { readonly index: number },
  reading = view.readings[index] ?? null,
): string {
  const name = plan.names[index];
  if (name === undefined || reading === null) return "";
  const text = readingText(view, name, reading) ?? "";
  return reading.value === null ? `“${text}”` : withUnit(text, READING_UNIT[name.kind] ?? "");
}

function earlyNotice(text: string): NonNullable<LineState["notice"]> {
  return { tone: "caution", text: earlyText(text, texts.thisReading) };
}

function offsetOf(session: KeyingSession): number {
  return Math.max(0, Date.now() - session.startedAt);
}

function Answer({ verdict, text }: Readonly<{ verdict: Verdict | null; text: string }>) {
  return (
    <p className={`${ask.live} ${styles.live}`} role="status">
      {verdict === null ? <span className={ask.liveWord}>{texts.kept}</span> : <StateMark state={verdict} size="l" />}
      <b className={/\d/.test(text) ? undefined : styles.feltWord}>{text}</b>
    </p>
  );
}

/** What the number being keyed is worth; before the first key, what the last one was, under its own name. */
function LiveAnswer({
  session,
  plan,
  view,
  text,
  keypad,
  notice,
}: Readonly<{
  session: KeyingSession;
  plan: KeyingPlan;
  view: KeyingView;
  text: string;
  /** The keypad needs the room of the pictures. */
  keypad: boolean;
  notice: LineState["notice"];
}>) {
  const index = view.asked;
  const asked = index === null ? undefined : plan.names[index];
  if (index === null || asked === undefined) return null;
  const parsed = text.trim() === "" ? null : parseDecimal(text, keyedUnit(plan, asked) ?? undefined);
  const draft = parsed?.ok ? keyedValue(plan, asked, parsed.value) : null;
  const feedback =
    draft === null
      ? null
      : judgeReading(plan.drawing, asked, draft, sweepWith(plan.names, view.readings, index, draft));
  const limits = limitsOf(plan.drawing, asked.kind);
  // Looked at again, a reading shows its own worth; else the one before it does.
  const lastPlace = view.readings[index] ? index : session.last;
  const last = lastPlace === null ? null : (view.readings[lastPlace] ?? null);
  const lastName = lastPlace === null ? undefined : plan.names[lastPlace];
  const siblings = view.names.flatMap((name, at) => {
    const value = view.readings[at]?.value ?? null;
    if (at === index || value === null || name.kind !== asked.kind) return [];
    return "seat" in name && "seat" in asked && name.seat !== asked.seat ? [] : [value];
  });
  const shown =
    draft ?? (last !== null && lastName?.kind === asked.kind && sameSeat(lastName, asked) ? last.value : null);
  const swept = !keypad && (asked.kind === "sweep" || asked.kind === "face") ? asked : null;
  const isSaid = text === "" && (session.refusal !== null || notice !== null);
  return (
    <div className={swept === null ? undefined : styles.withSweep}>
      {session.refusal !== null && text === "" ? (
        <p className={parts.refusal} role="alert">
          {session.refusal}
        </p>
      ) : notice !== null && text === "" ? (
        <p className={notice.tone === "done" ? parts.done : parts.refusal} role="alert">
          {notice.text}
        </p>
      ) : feedback !== null && feedback.question === null ? (
        <Answer
          verdict={feedback.verdict}
          text={
            feedback.deviationUm === null
              ? withUnit(
                  formatSigned(draft ?? 0, draftDecimals(parsed, plan.smallUnit), view.decimal),
                  READING_UNIT[asked.kind] ?? "",
                )
              : formatDeviationUm(feedback.deviationUm, 0, view.decimal)
          }
        />
      ) : last !== null && lastPlace !== null && lastName !== undefined && text === "" ? (
        <div>
          {lastPlace === index ? null : (
            <p className={styles.lastName}>{formatReading(lastName, view.side, view.decimal).title}</p>
          )}
          <Answer verdict={verdictOf(view, lastPlace)} text={lastText(view, lastPlace)} />
        </div>
      ) : (
        <p className={`${ask.live} ${styles.live}`}>
          <span className={ask.liveWord}>{text === "" ? texts.noReadingYet : " "}</span>
        </p>
      )}
      {limits === undefined || (keypad && isSaid) ? null : (
        <DeviationBar
          lower={limits.lower}
          upper={limits.upper}
          target={limits.target}
          unit="mm"
          guard={guardBand(plan.drawing.decisionRule, limits.uncertainty)}
          value={shown}
          kept={siblings}
          decimal={view.decimal}
        />
      )}
      {swept === null ? null : <LiveSweep view={view} asked={swept} />}
    </div>
  );
}

/** Decimals of a deviation in µm, as many as were keyed. */
function draftDecimals(parsed: ParsedDecimal | null, unit: KeyingPlan["smallUnit"]): number {
  if (!parsed?.ok) return 0;
  return unit === "µm" ? parsed.decimals : Math.max(0, parsed.decimals - 3);
}

function sameSeat(a: KeyingView["names"][number], b: KeyingView["names"][number]): boolean {
  return !("seat" in a) || !("seat" in b) || a.seat === b.seat;
}

function lastText(view: KeyingView, index: number): string {
  const name = view.names[index];
  const value = view.readings[index]?.value ?? null;
  if (name === undefined || value === null) return keptText(view, index) ?? "";
  const { deviationUm } = judgeReading(view.drawing, name, value);
  return deviationUm === null
    ? formatDeviationUm(value, Number.isInteger(value) ? 0 : 1, view.decimal)
    : formatDeviationUm(deviationUm, 0, view.decimal);
}

type NextStepsProps = Readonly<{
  view: KeyingView;
  index: number;
  /** A word that was kept already is looked at: there is a key back to what is open. */
  back: boolean;
  /** Only what comes next: something else needs the room. */
  short: boolean;
  onGoOn: () => void;
}>;

/** What comes after this reading, and how much of each kind there is. */
const NextSteps = memo(function NextSteps({ view, index, back, short, onGoOn }: NextStepsProps) {
  const next = view.names.findIndex((_, at) => at > index && view.readings[at] === null);
  const following = next < 0 ? undefined : view.names[next];
  const kind = view.names[index]?.kind;
  const swept = kind === "sweep" || kind === "face";
  return (
    <div className={styles.next}>
      <dl className={styles.counts}>
        <div>
          <dt>
            <b>
              {following === undefined
                ? texts.lastReading
                : texts.next(formatReading(following, view.side, view.decimal).title)}
            </b>
          </dt>
          <dd>{following === undefined ? texts.thenVerdict : detailOf(following, view)}</dd>
        </div>
        {swept || short
          ? null
          : countsOf(view).map(({ kind, taken, planned }) => (
              <div key={kind}>
                <dt>{KIND_WORDS[kind]}</dt>
                <dd>{texts.ofPlanned(taken, planned)}</dd>
              </div>
            ))}
      </dl>
      {back ? (
        <Button size="touch" wide onClick={onGoOn}>
          {texts.goOnWithNextOpen}
        </Button>
      ) : null}
    </div>
  );
});
