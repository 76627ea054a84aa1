import { Children, Fragment, isValidElement, type ReactNode } from "react";

/** Longer than this a key may break: a phone has no room for it on one line. */
const LONGEST = 26;
/** Days and moments, serials and keys with digits, parts of a standard, numbers with their unit: `C41-02938`, `ISO 5753-1`, `4.0 µm`. */
const WHOLE =
  /\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2}(?::\d{2})?(?:\u00a0(?:[A-Z]{2,5}|GMT[+-]\d+))?)?|[A-Za-z][A-Za-z0-9]*-(?=[A-Za-z0-9-]*\d)[A-Za-z0-9-]+|\d{1,26}-\d+|[±+\u2212-]?\d[\d.,]* (?:mm|µm|%|ppm|h|min|K|°C)(?![A-Za-z])/g;

function keepInText(text: string): ReactNode {
  const parts: ReactNode[] = [];
  let done = 0;
  for (const { 0: found, index } of text.matchAll(WHOLE)) {
    if (found.length > LONGEST) continue;
    parts.push(
      text.slice(done, index),
      <span key={index} className="nowrap">
        {found}
      </span>,
    );
    done = index + found.length;
  }
  return done === 0 ? text : [...parts, text.slice(done)];
}

/**
 * Words as they are, with dates, moments, serials and keys that no line break goes through: a browser breaks them at their hyphens.
 * Looks into texts, lists and fragments, not into elements.
 */
export function keepWhole(node: ReactNode): ReactNode {
  if (typeof node === "string") return keepInText(node);
  if (Array.isArray(node)) return Children.map(node, keepWhole);
  if (isValidElement<{ children?: ReactNode }>(node) && node.type === Fragment)
    return <Fragment key={node.key}>{keepWhole(node.props.children)}</Fragment>;
  return node;
}
