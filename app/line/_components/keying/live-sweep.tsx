import { sweepReachUm } from "@/lib/charts/sweep-layout";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { formatSeat } from "@/lib/format/clock-text";
import { formatDepth } from "@/lib/format/reading-text";
import { SweepPlot } from "@/lib/ui/sweep-plot";
import type { KeyingView } from "./keying-view";
import { KEYING_WORDS } from "../../words/keying";
import styles from "./keying.module.css";

const words = KEYING_WORDS.sweep;

/** The sweep in hand as it grows: points, fit, closure. */
export function LiveSweep({
  view,
  asked,
}: Readonly<{ view: KeyingView; asked: Extract<ReadingName, { kind: "sweep" | "face" }> }>) {
  const points = view.names.flatMap((name, index) => {
    const value = view.readings[index]?.value ?? null;
    if (value === null || name.kind !== asked.kind || name.seat !== asked.seat) return [];
    if (name.kind === "sweep" && asked.kind === "sweep" && name.depthMm !== asked.depthMm) return [];
    return [{ angleDeg: name.angleDeg, valueUm: value }];
  });
  const section =
    asked.kind === "sweep"
      ? view.measurement.swept
          .find((one) => one.swept === asked.seat)
          ?.sections.find((one) => one.depthMm === asked.depthMm)
      : undefined;
  const fit = section?.fit?.fit ?? null;
  return (
    <div className={styles.sweepBox}>
      <SweepPlot
        side={view.side}
        points={points}
        fit={
          fit === null
            ? null
            : {
                meanUm: fit.mean,
                harmonics: fit.harmonics.map(({ order, cos, sin }) => ({ order, cosineUm: cos, sineUm: sin })),
              }
        }
        askedDeg={asked.angleDeg % 360}
        reachUm={sweepReachUm(view.drawing, asked.kind)}
        title={
          asked.kind === "sweep"
            ? words.deep(formatSeat(asked.seat), formatDepth(asked.depthMm, view.decimal))
            : words.face(formatSeat(asked.seat))
        }
        {...(asked.kind === "sweep" ? { closureLimitUm: view.compiled.closingLimitUm } : {})}
      />
    </div>
  );
}
