import { create } from "qrcode/lib/core/qrcode";

/** White around the code, in its own squares. Source: ISO/IEC 18004, quiet zone 4X. */
const QUIET = 4;

/** A text as a code that scanners and phones read, by ISO/IEC 18004. Always dark on white, on any theme. */
export function ScannedCode({ text, label }: Readonly<{ text: string; label?: string }>) {
  const { modules } = create(text, { errorCorrectionLevel: "M" });
  const dark: string[] = [];
  for (let row = 0; row < modules.size; row += 1)
    for (let column = 0; column < modules.size; column += 1)
      if (modules.get(row, column)) dark.push(`M${column} ${row}h1v1h-1z`);
  const side = modules.size + 2 * QUIET;
  return (
    <svg
      viewBox={`${-QUIET} ${-QUIET} ${side} ${side}`}
      shapeRendering="crispEdges"
      {...(label === undefined ? { "aria-hidden": true } : { role: "img", "aria-label": label })}
    >
      <rect x={-QUIET} y={-QUIET} width={side} height={side} fill="#fff" />
      <path d={dark.join("")} fill="#000" />
    </svg>
  );
}
