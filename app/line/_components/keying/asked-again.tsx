import type { Seat } from "@/lib/core/metrology/reading-name";
import type { DecimalSign } from "@/lib/format/number-text";
import { reasonInWords } from "@/lib/format/verdict-reasons";
import type { OpenAgain } from "@/lib/offline/device/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import { Button } from "@/lib/ui/button";
import { KEYING_WORDS } from "../../words/keying";
import parts from "../parts/parts.module.css";

const words = KEYING_WORDS.askedAgain;

type AskedAgainProps = Readonly<{
  device: LineDevice;
  again: OpenAgain;
  /** A number came instead of an answer. */
  refusal: string | null;
  side: Seat;
  decimal: DecimalSign;
}>;

/** A sweep or a diameter that is not regular, asked about while the shell is on the stand: Enter takes it again. */
export function AskedAgain({ device, again, refusal, side, decimal }: AskedAgainProps) {
  const reason = reasonInWords(again.reason, { side, decimal });
  return (
    <div className={parts.question} role="alert">
      <p>{words.enterTakesAgainKept(<b>{words.do[again.of]}?</b>, reason.charAt(0).toUpperCase() + reason.slice(1))}</p>
      {refusal === null ? null : <p className={parts.refusal}>{refusal}</p>}
      <div className={parts.keys}>
        <Button kind="go" size="large" wide keyHint="Enter" onClick={() => void device.key({ type: "yes" })}>
          {words.do[again.of]}
        </Button>
        <Button size="touch" onClick={() => void device.key({ type: "as keyed" })}>
          {words.keepAsIs}
        </Button>
      </div>
    </div>
  );
}
