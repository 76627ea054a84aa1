import Link from "next/link";
import { lotPlanText, lotResultText, schemeText, standingText, wholeText } from "@/lib/format/lot-words";
import { lotShare } from "@/lib/quality/lot-judgement";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { BatchSample } from "@/lib/server/batches/sampling-queries";
import { keepWhole } from "@/lib/ui/keep-whole";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { PlanStrength } from "../../../_components/plan-strength";
import { SAMPLING_WORDS } from "../../../sampling-words";
import styles from "../batch.module.css";

const words = SAMPLING_WORDS.batch;

function verdictOf(state: BatchSample["judgement"]["state"]): Verdict {
  if (state === "measuring") return "not measured";
  return state === "accepted" ? "conforms" : "does not conform";
}

/** The plan by which a batch is sampled, what it makes of it, and how to draw the same serials again. */
export function SampleSection({ sample, href }: Readonly<{ sample: BatchSample | null; href: string }>) {
  if (sample === null) return null;
  const { judgement, state, drawn, scheme } = sample;
  const { plan, measured } = judgement;
  const whole = wholeText(plan);
  const result =
    judgement.state === "measuring"
      ? words.measuring(measured, plan.n)
      : judgement.state === "accepted"
        ? words.accepted
        : words.refused;
  const own = measured < plan.n ? undefined : lotShare(judgement);
  return (
    <section className={styles.sample}>
      <SectionHeading aside={plan.n < plan.lot ? words.drawn(plan.n, plan.lot) : words.all(plan.lot)}>
        {words.heading}
      </SectionHeading>
      <p>
        <Link href={href}>{schemeText(scheme)}</Link>: {keepWhole(lotPlanText(plan))}
        {whole === null ? "" : keepWhole(`; ${whole}`)}.
      </p>
      {plan.code === null && scheme.kind !== "zero-acceptance" ? null : (
        <p>
          <StateMark state={verdictOf(judgement.state)} size="s" wordBeside /> <b>{result}</b>:{" "}
          {keepWhole(lotResultText(judgement))}.
        </p>
      )}
      {state === null ? null : (
        <p className="soft">
          {words.before}: {keepWhole(standingText(state, "reducedWanted" in scheme && scheme.reducedWanted))}
        </p>
      )}
      {plan.n < plan.lot ? (
        <PlanStrength scheme={scheme} lot={plan.lot} severity={plan.severity} {...(own === undefined ? {} : { own })} />
      ) : null}
      {drawn === null ? null : (
        <details className={styles.same}>
          <summary>{words.draw}</summary>
          <p className={styles.serials}>
            {drawn.serials.map((serial) => (
              <Link
                key={serial}
                className="mono nowrap"
                href={`/frames/${encodeURIComponent(serial)}`}
                prefetch={false}
              >
                {serial}
              </Link>
            ))}
          </p>
          <p className={styles.hash}>{words.drawIs(drawn.seed, drawn.list)}</p>
        </details>
      )}
    </section>
  );
}
