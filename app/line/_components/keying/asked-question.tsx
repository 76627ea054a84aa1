import { formatFixed, withUnit, type DecimalSign } from "@/lib/format/number-text";
import { A_SIZE, entersOffer, mayStand, type OpenQuestion } from "@/lib/offline/device/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import { Button } from "@/lib/ui/button";
import { KEYING_WORDS } from "../../words/keying";
import parts from "../parts/parts.module.css";

const words = KEYING_WORDS.question;

/** Sizes to a tenth of a µm, as a ring is certified; indicators to a tenth, too. */
const MOST_DIGITS = { mm: 4, µm: 1 } as const;

function shown(value: number, unit: "mm" | "µm", decimal: DecimalSign): string {
  const digits = Math.min(MOST_DIGITS[unit], String(value).split(".")[1]?.length ?? 0);
  return withUnit(formatFixed(value, digits, decimal), unit);
}

function headOf({ value, question: { slip, severity, unit } }: OpenQuestion, decimal: DecimalSign): string {
  if (severity === "clipped") return words.needleStoodAtStop;
  if (slip !== null) return words.meant(shown(slip.value, unit, decimal));
  return severity === "unlikely"
    ? words.isRight(shown(value, unit, decimal))
    : words.cannotBe(shown(value, unit, decimal));
}

function textOf({ value, question }: OpenQuestion, decimal: DecimalSign): string {
  const { slip, severity, unit, text } = question;
  if (slip?.kind === A_SIZE) return words.asDeviationFromRingWould(shown(value, unit, decimal));
  if (severity === "clipped") return words.enterTakesAgainFromFirst(text);
  if (severity === "unlikely") return words.isFarFromWhatFits(shown(value, unit, decimal));
  const why = decimal === "," ? text.replaceAll(/(\d)\.(\d)/g, "$1,$2") : text;
  const rule = why.split(";")[0] ?? why;
  return slip === null ? words.reEnterCannotBeKept(rule) : words.enterTakesOfferNewNumber(rule, slip.kind);
}

type QuestionKeysProps = Readonly<{
  device: LineDevice;
  question: OpenQuestion;
  /** A number came instead of an answer. */
  refusal: string | null;
  decimal: DecimalSign;
  /** A bore may be off the scale of its gauge. */
  isBore: boolean;
}>;

function QuestionKeys({ device, question: open, decimal, isBore }: Omit<QuestionKeysProps, "refusal">) {
  const { value, question } = open;
  const { slip, unit, severity, side } = question;
  const isClipped = severity === "clipped";
  const offer = slip === null ? null : words.isMeant(shown(slip.value, unit, decimal));
  const takeOffer = () => void device.key({ type: "take offer" });
  const isOffered = offer !== null && entersOffer(question);
  return (
    <div className={parts.keys}>
      <Button
        kind="go"
        size="large"
        wide
        keyHint="Enter"
        onClick={isOffered ? takeOffer : () => void device.key({ type: "yes" })}
      >
        {isOffered ? offer : isClipped ? words.takeAgain : words.reEnter}
      </Button>
      {offer === null || isOffered ? null : (
        <Button size="touch" onClick={takeOffer}>
          {offer}
        </Button>
      )}
      {isBore && severity === "impossible" && side !== undefined && slip?.kind !== A_SIZE ? (
        <Button size="touch" onClick={() => void device.key({ type: "off scale", side })}>
          {words.offScale(side)}
        </Button>
      ) : null}
      {mayStand(question) ? (
        <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
          {words.isRightValue(shown(value, unit, decimal))}
        </Button>
      ) : null}
      {isClipped ? (
        <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
          {words.leaveNotProven}
        </Button>
      ) : null}
      {isOffered ? (
        <Button size="touch" keyHint="Esc" onClick={() => void device.key({ type: "no" })}>
          {words.reEnter}
        </Button>
      ) : null}
    </div>
  );
}

/** What is asked about a value: Enter has the first key, which takes the likely slip and never keeps what hardly ever is. */
export function AskedQuestion({ device, question, refusal, decimal, isBore }: QuestionKeysProps) {
  return (
    <div className={parts.question} role="alert">
      <p>
        <b>{headOf(question, decimal)}</b> {textOf(question, decimal)}
      </p>
      {refusal === null ? null : <p className={parts.refusal}>{refusal}</p>}
      <QuestionKeys device={device} question={question} decimal={decimal} isBore={isBore} />
    </div>
  );
}
