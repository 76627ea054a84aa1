import type { BarFinding, PlugFinding } from "@/lib/core/metrology/plug-evidence";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { FeltEvidence } from "@/lib/quality/felt-evidence";
import { plugText } from "./felt-words";
import { formatArcMinutes, formatFixed } from "./number-text";
import { numberText, valueText } from "./value-text";

const NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;

function plugSentence(seat: Seat, finding: PlugFinding): string {
  switch (finding.code) {
    case "gauge-problem": {
      const { plug, boreMm, beyondUm, oddLobesPossible } = finding;
      const cause = oddLobesPossible ? "one gauge is wrong, or the seat has odd lobes" : "one gauge is wrong";
      const extreme = plug.across === true ? "largest" : "smallest";
      return `Gauge problem, ${NAME[seat]}: ${plugText(plug)}, ${extreme} bore reading ${valueText(boreMm, "mm")}, ${formatFixed(beyondUm, 0)} µm beyond both uncertainties: ${cause}.`;
    }
    case "plugs-contradict":
      return `Gauge problem, ${NAME[seat]}: the plugs contradict each other (at least ${numberText(finding.leastMm, "mm")}, at most ${valueText(finding.mostMm, "mm")}).`;
    case "seat-small":
      return `${NAME[seat]} seat is ${finding.marginal ? "marginally " : ""}small by the plugs: at most ${valueText(finding.mostMm, "mm")}, limit ${numberText(finding.limitMm, "mm")}.`;
    case "seat-large":
      return `${NAME[seat]} seat is large by the plugs: at least ${valueText(finding.leastMm, "mm")}, limit ${numberText(finding.limitMm, "mm")}.`;
  }
}

function barSentence(finding: BarFinding): string {
  switch (finding.code) {
    case "gauge-problem":
      return `Gauge problem: the bar contradicts the measured tilt of ${formatArcMinutes(finding.tiltArcmin)} by ${formatArcMinutes(finding.beyondArcmin)} beyond both uncertainties.`;
    case "bar-in-line":
      return `The bar turns freely: the seats are in line within ${formatArcMinutes(finding.mostArcmin)}.`;
    case "bar-slightly-out":
      return `The bar is stiff: the worse seat tilts ${formatArcMinutes(finding.leastArcmin)} to ${formatArcMinutes(finding.mostArcmin)}.`;
    case "bar-reject":
      return `The bar does not pass: a seat tilts more than ${formatArcMinutes(finding.leastArcmin)}; reject.`;
  }
}

/** Plugs and bar as evidence, with what they say. */
export type ToldEvidence = FeltEvidence & {
  /** One sentence a finding, gauge problems first. */
  readonly sentences: readonly string[];
};

const isProblem = ({ code }: PlugFinding | BarFinding): boolean =>
  code === "gauge-problem" || code === "plugs-contradict";

/** What plugs and bar say, one sentence a finding, gauge problems first. */
export function evidenceSentences({ plugs, bar }: FeltEvidence): string[] {
  const seats: readonly Seat[] = ["ds", "nds"];
  const all = [
    ...seats.flatMap((seat) =>
      (plugs[seat]?.findings ?? []).map((finding) => ({ finding, text: plugSentence(seat, finding) })),
    ),
    ...(bar ?? []).map((finding) => ({ finding, text: barSentence(finding) })),
  ];
  return [...all.filter(({ finding }) => isProblem(finding)), ...all.filter(({ finding }) => !isProblem(finding))].map(
    ({ text }) => text,
  );
}

/** Plugs and bar as they are sent and shown. */
export const toldEvidence = (evidence: FeltEvidence): ToldEvidence => ({
  ...evidence,
  sentences: evidenceSentences(evidence),
});
