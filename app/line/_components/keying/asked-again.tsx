import type { Seat } from "@/lib/core/metrology/reading-name";
import type { DecimalSign } from "@/lib/format/number-text";
import { reasonInWords } from "@/lib/format/verdict-reasons";
import type { OpenAgain } from "@/lib/offline/device/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import { Button } from "@/lib/ui/button";
import parts from "../parts/parts.module.css";

type AskedAgainProps = Readonly<{
  device: LineDevice;
  again: OpenAgain;
  /** A number came instead of an answer. */
  refusal: string | null;
  side: Seat;
  decimal: DecimalSign;
}>;

const DO = { sweep: "Sweep again", reading: "Measure it again" } as const;

/** A sweep or a diameter that is not regular, asked about while the shell is on the stand: Enter takes it again. */
export function AskedAgain({ device, again, refusal, side, decimal }: AskedAgainProps) {
  const reason = reasonInWords(again.reason, { side, decimal });
  return (
    <div className={parts.question} role="alert">
      <p>
        <b>{DO[again.of]}?</b> {reason.charAt(0).toUpperCase() + reason.slice(1)}. Enter takes it again; kept as it is,
        it proves nothing.
      </p>
      {refusal === null ? null : <p className={parts.refusal}>{refusal}</p>}
      <div className={parts.keys}>
        <Button kind="go" size="large" wide keyHint="Enter" onClick={() => void device.key({ type: "yes" })}>
          {DO[again.of]}
        </Button>
        <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
          Keep it as it is
        </Button>
      </div>
    </div>
  );
}
