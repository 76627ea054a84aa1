import type { Severity } from "@/lib/core/sampling/attribute-tables";
import { formatFixed } from "@/lib/format/number-text";
import { percentText, samplingWords } from "@/lib/format/sampling-words";
import { askedOf, type LotScheme } from "@/lib/quality/lot-plan";
import { samplingAnswer } from "@/lib/quality/sampling-answer";
import { keepWhole } from "@/lib/ui/keep-whole";
import { KeyValues } from "@/lib/ui/key-values";
import { OcCurve } from "@/lib/ui/oc-curve";
import { SAMPLING_WORDS } from "../sampling-words";
import styles from "./plan-strength.module.css";

const words = SAMPLING_WORDS.strength;

/**
 * What a plan finds and what it lets through: its numbers, its operating characteristic, both risks, outgoing quality, and in words.
 *
 * @param own - share of the sample that counted against its batch; left out before it is measured
 */
export function PlanStrength({
  scheme,
  lot,
  severity,
  own,
}: Readonly<{ scheme: LotScheme; lot: number; severity: Severity | null; own?: number }>) {
  const asked = askedOf(scheme, lot, severity);
  if (asked === null) return null;
  const answer = samplingAnswer(asked, null);
  const { n, ac, re, k, code, usedCode, risks, aoql, oc } = answer;
  const { producer, consumer } = risks;
  const nearest = (p: number) => oc.reduce((best, one) => (Math.abs(one.p - p) < Math.abs(best.p - p) ? one : best));
  const mark = (p: number, pa: number) => ({
    p,
    pa,
    text: words.acceptedAt(percentText(p), percentText(pa)),
    isOwn: false,
  });
  const marks = [
    mark(producer.p, producer.pa),
    mark(consumer.p, consumer.pa),
    ...(own === undefined
      ? []
      : [{ p: own, pa: nearest(own).pa, text: words.thisBatch(percentText(own)), isOwn: true }]),
  ];
  return (
    <div className={styles.strength}>
      <div>
        <KeyValues
          pairs={[
            ...(code === null || usedCode === null
              ? []
              : [{ label: words.letter, value: words.letterUsed(code, usedCode) }]),
            { label: words.frames, value: n },
            ...(k === null
              ? [{ label: words.accept, value: `${ac} / ${re}` }]
              : [{ label: words.k, value: formatFixed(k, 3) }]),
            { label: words.refusingGood, note: words.at(percentText(producer.p)), value: percentText(producer.risk) },
            { label: words.acceptingBad, note: words.at(percentText(consumer.p)), value: percentText(consumer.risk) },
            { label: words.outgoing, note: words.at(percentText(aoql.p)), value: percentText(aoql.aoq) },
          ]}
        />
      </div>
      <OcCurve curve={oc} marks={marks} label={words.curve} />
      <ul className={styles.weak} aria-label={words.weak}>
        {samplingWords(asked, answer).map((sentence) => (
          <li key={sentence}>{keepWhole(sentence)}</li>
        ))}
      </ul>
    </div>
  );
}
