import { formatFixed, withUnit, type DecimalSign } from "@/lib/format/number-text";
import { A_SIZE, type OpenQuestion } from "@/lib/offline/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import { Button } from "@/lib/ui/button";
import styles from "./line.module.css";

/** Sizes to a tenth of a µm, as a ring is certified; indicators to a tenth, too. */
const MOST_DIGITS = { mm: 4, µm: 1 } as const;

function shown(value: number, unit: "mm" | "µm", decimal: DecimalSign): string {
  const digits = Math.min(MOST_DIGITS[unit], String(value).split(".")[1]?.length ?? 0);
  return withUnit(formatFixed(value, digits, decimal), unit);
}

type AskedQuestionProps = Readonly<{
  device: LineDevice;
  question: OpenQuestion;
  decimal: DecimalSign;
}>;

/** An implausible value, asked about once: Enter takes the offer, the value as keyed can be kept, a new number replaces it. */
export function AskedQuestion({ device, question: { value, question }, decimal }: AskedQuestionProps) {
  const { slip, expected, reach, unit } = question;
  return (
    <div className={styles.question} role="alert">
      <p>
        <b>
          {slip === null ? `Is ${shown(value, unit, decimal)} right?` : `Meant ${shown(slip.value, unit, decimal)}?`}
        </b>{" "}
        {slip?.kind === A_SIZE
          ? `As a deviation from the ring it would be ${shown(value, unit, decimal)}. Enter takes the size, a new number replaces it.`
          : slip === null
            ? `It lies more than ${shown(reach, unit, decimal)} from ${shown(expected, unit, decimal)}. Enter keeps it, a new number replaces it.`
            : `Keyed was ${shown(value, unit, decimal)}: ${slip.kind}. Enter takes the offer, a new number replaces it.`}
      </p>
      <div className={styles.keys}>
        {slip === null ? null : (
          <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
            {shown(value, unit, decimal)} is right
          </Button>
        )}
        <Button size="touch" keyHint="Esc" onClick={() => void device.key({ type: "no" })}>
          Key anew
        </Button>
      </div>
    </div>
  );
}
