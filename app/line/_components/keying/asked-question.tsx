import { formatFixed, withUnit, type DecimalSign } from "@/lib/format/number-text";
import { A_SIZE, entersOffer, mayStand, type OpenQuestion } from "@/lib/offline/device/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import { Button } from "@/lib/ui/button";
import parts from "../parts/parts.module.css";

/** Sizes to a tenth of a µm, as a ring is certified; indicators to a tenth, too. */
const MOST_DIGITS = { mm: 4, µm: 1 } as const;

function shown(value: number, unit: "mm" | "µm", decimal: DecimalSign): string {
  const digits = Math.min(MOST_DIGITS[unit], String(value).split(".")[1]?.length ?? 0);
  return withUnit(formatFixed(value, digits, decimal), unit);
}

function headOf({ value, question: { slip, severity, unit } }: OpenQuestion, decimal: DecimalSign): string {
  if (severity === "clipped") return "The needle stood at its stop.";
  if (slip !== null) return `Meant ${shown(slip.value, unit, decimal)}?`;
  return severity === "unlikely"
    ? `Is ${shown(value, unit, decimal)} right?`
    : `${shown(value, unit, decimal)} cannot be.`;
}

function textOf({ value, question }: OpenQuestion, decimal: DecimalSign): string {
  const { slip, severity, unit, text } = question;
  if (slip?.kind === A_SIZE)
    return `As a deviation from the ring it would be ${shown(value, unit, decimal)}. Enter takes the size, a new number replaces it.`;
  if (severity === "clipped") return `${text}. Enter takes it again from its first reading.`;
  if (severity === "unlikely")
    return `${shown(value, unit, decimal)} is far from what fits. Enter asks for it again, a new number replaces it.`;
  const why = decimal === "," ? text.replaceAll(/(\d)\.(\d)/g, "$1,$2") : text;
  const rule = why.split(";")[0] ?? why;
  return slip === null
    ? `${rule}. Re-enter it; it cannot be kept.`
    : `${rule}: ${slip.kind}. Enter takes the offer, a new number replaces it.`;
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
  const offer = slip === null ? null : `${shown(slip.value, unit, decimal)} is meant`;
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
        {isOffered ? offer : isClipped ? "Take it again" : "Re-enter"}
      </Button>
      {offer === null || isOffered ? null : (
        <Button size="touch" onClick={takeOffer}>
          {offer}
        </Button>
      )}
      {isBore && severity === "impossible" && side !== undefined && slip?.kind !== A_SIZE ? (
        <Button size="touch" onClick={() => void device.key({ type: "off scale", side })}>
          Off the scale, {side}
        </Button>
      ) : null}
      {mayStand(question) ? (
        <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
          {shown(value, unit, decimal)} is right
        </Button>
      ) : null}
      {isClipped ? (
        <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
          Leave it, not proven
        </Button>
      ) : null}
      {isOffered ? (
        <Button size="touch" keyHint="Esc" onClick={() => void device.key({ type: "no" })}>
          Re-enter
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
