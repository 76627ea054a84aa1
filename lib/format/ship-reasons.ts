/** A reason of the ship scan as the dock reads it: what stops the frame, and below it what its readings say. */
export type ShipReasonText = { readonly title: string; readonly details: readonly string[] };

const FINDINGS = ": its own readings are against it";

/** A text in parts at "; ", where that is not inside of brackets. */
function clauses(text: string): readonly string[] {
  const parts: string[] = [];
  let depth = 0;
  let from = 0;
  for (let at = 0; at < text.length; at += 1) {
    if (text[at] === "(") depth += 1;
    if (text[at] === ")") depth -= 1;
    if (depth > 0 || !text.startsWith("; ", at)) continue;
    parts.push(text.slice(from, at));
    from = at + 2;
  }
  return [...parts, text.slice(from)];
}

/** A finding as a line of its own, without what explains it in brackets at its end: that stands on the frame's record. */
function withoutWhy(finding: string): string {
  const at = finding.indexOf(" (");
  const said = at < 0 ? finding : finding.slice(0, at);
  return said.charAt(0).toUpperCase() + said.slice(1);
}

/**
 * Cuts a reason of the ship scan into its headline and one line a finding, without their explanations.
 *
 * @param text - a reason as it is told: "It is held: its own readings are against it: bore of the DS seat ..., 41.050 mm (...); ..."
 */
export function shipReasonText(text: string): ShipReasonText {
  const at = text.indexOf(`${FINDINGS}: `);
  if (at < 0) return { title: text, details: [] };
  const findings = text.slice(at + FINDINGS.length + 2).replace(/\.$/, "");
  return { title: text.slice(0, at + FINDINGS.length), details: clauses(findings).map(withoutWhy) };
}
