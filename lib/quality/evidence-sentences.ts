import type { BarFinding, PlugEvidence, PlugFinding } from "../core/metrology/plug-evidence";
import type { Seat } from "../core/metrology/reading-name";
import { plugText } from "./felt-words";
import { arcminText, wholeUm } from "./meaning";
import { numberText, valueText } from "../format/value-text";

const NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;

function plugSentence(seat: Seat, finding: PlugFinding): string {
  switch (finding.code) {
    case "gauge-problem": {
      const { plug, boreMm, beyondUm, oddLobesPossible } = finding;
      const cause = oddLobesPossible ? "one gauge is wrong, or the seat has odd lobes" : "one gauge is wrong";
      const extreme = plug.across === true ? "largest" : "smallest";
      return `Gauge problem, ${NAME[seat]}: ${plugText(plug)}, ${extreme} bore reading ${valueText(boreMm, "mm")}, ${wholeUm(beyondUm)} µm beyond both uncertainties: ${cause}.`;
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
      return `Gauge problem: the bar contradicts the measured tilt of ${arcminText(finding.tiltArcmin)} by ${arcminText(finding.beyondArcmin)} beyond both uncertainties.`;
    case "bar-in-line":
      return `The bar turns freely: the seats are in line within ${arcminText(finding.mostArcmin)}.`;
    case "bar-slightly-out":
      return `The bar is stiff: the worse seat tilts ${arcminText(finding.leastArcmin)} to ${arcminText(finding.mostArcmin)}.`;
    case "bar-reject":
      return `The bar does not pass: a seat tilts more than ${arcminText(finding.leastArcmin)}; reject.`;
  }
}

/** Whether a sentence of evidenceSentences tells of gauges that contradict each other. */
export function isGaugeProblem(sentence: string): boolean {
  return sentence.startsWith("Gauge problem");
}

/** What plugs and bar say, one sentence a finding, gauge problems first. */
export function evidenceSentences(
  plugs: Readonly<Record<Seat, PlugEvidence | null>>,
  bar: readonly BarFinding[] | null,
): string[] {
  const seats: readonly Seat[] = ["ds", "nds"];
  const all = [
    ...seats.flatMap((seat) => (plugs[seat]?.findings ?? []).map((finding) => plugSentence(seat, finding))),
    ...(bar ?? []).map(barSentence),
  ];
  return [...all.filter(isGaugeProblem), ...all.filter((sentence) => !isGaugeProblem(sentence))];
}
