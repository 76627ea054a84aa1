import { existsSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import type { DecisionRule } from "@/lib/core/metrology/shell-drawing";
import { limitsMethodText, noLimitsText, streamText } from "@/lib/format/signal-words";
import { countText } from "@/lib/format/value-text";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { CheckOutcome } from "./check-file";
import type { FileStream } from "./file-streams";
import { CAUTIONS, judgedText, namedCharacteristics, problemLines } from "./human-output";
import type { JudgedFrame } from "./judge-file-frame";
import { escapeHtml, streamChart } from "./report-chart";
import { capabilityText, signalWords } from "./stream-words";

/** Frames that are not plainly good and that the report lists one by one. */
const MOST_FRAMES = 400;

const MARK = {
  conforms: `<svg class="mk ok" viewBox="0 0 20 20" aria-hidden="true"><circle cx="10" cy="10" r="7.5"/></svg>`,
  "not proven": `<svg class="mk maybe" viewBox="0 0 20 20" aria-hidden="true"><circle cx="10" cy="10" r="7.5"/><path class="broad" d="M10 2.5a7.5 7.5 0 0 0 0 15"/></svg>`,
  "not measured": `<svg class="mk wait" viewBox="0 0 20 20" aria-hidden="true"><circle cx="10" cy="10" r="7.5" stroke-dasharray="3 3"/></svg>`,
  "does not conform": `<svg class="mk no" viewBox="0 0 20 20" aria-hidden="true"><circle cx="10" cy="10" r="7.5"/><path class="broad" d="M5.5 10h9"/></svg>`,
} as const satisfies Record<Verdict, string>;

const STYLE = `
:root{--paper:#F7F6F2;--sheet:#FCFBF8;--hair:#C9CDD0;--ink:#16212B;--ink-2:#46535E;--ink-3:#65717B;--blue:#1D4F91;--ok:#009E73;--ok-text:#00664A;--maybe:#E69F00;--maybe-text:#835500;--no:#D55E00;--no-text:#A34500;--signal:#CC79A7;--signal-text:#93406B;--muted:#56B4E9;
--sans:"Sofia Sans",system-ui,sans-serif;--narrow:"Sofia Sans Semi Condensed","Sofia Sans",system-ui,sans-serif;--mono:ui-monospace,monospace}
*{box-sizing:border-box;margin:0}
body{font:400 15px/1.4 var(--sans);color:var(--ink);background:var(--paper);font-feature-settings:"tnum" 1,"lnum" 1;max-width:820px;margin:32px auto;padding:0 24px}
h1{font-size:36px;line-height:1.1;letter-spacing:-.02em;margin:24px 0 8px}h2{font-size:21px;margin:32px 0 8px;border-bottom:1.4px solid var(--ink);padding-bottom:4px}h3{font-size:15px;font-weight:640;margin:16px 0 2px}
.tb{display:flex;flex-wrap:wrap;border:1.4px solid var(--ink);background:var(--sheet)}.tb>div{padding:5px 12px 6px;border-left:1px solid var(--hair);flex:1 1 auto}.tb>div:first-child{border-left:0}
.lab{display:block;font:500 13px/1.2 var(--narrow);color:var(--ink-3)}.v{font:560 15px/1.2 var(--narrow)}
table{border-collapse:collapse;width:100%;font-family:var(--narrow)}th,td{text-align:left;padding:4px 10px 4px 0;border-bottom:1px solid var(--hair);vertical-align:top}th{font-weight:500;font-size:13px;color:var(--ink-3)}td.n{text-align:right;white-space:nowrap}
.mono{font-family:var(--mono);letter-spacing:-.02em;white-space:nowrap}.soft{color:var(--ink-2)}.nb{white-space:nowrap}
.mk{width:1.1em;height:1.1em;vertical-align:-.2em;fill:none;stroke:currentColor;stroke-width:2}.mk .broad{stroke-width:3.4}.ok{color:var(--ok-text)}.maybe{color:var(--maybe-text)}.no{color:var(--no-text)}.wait{color:var(--ink-3)}
.batch{padding:8px 0;border-bottom:1px solid var(--hair)}.batch b{font-size:18px}.batch ul{margin:4px 0 0 20px;padding:0}
figure{margin:0 0 12px}figure svg{width:100%;height:auto;display:block}
svg text{font:11px var(--narrow);fill:var(--ink-2)}svg .b{fill:var(--ink-3);font-size:10px}
svg .limit{stroke:var(--ink);stroke-width:2}svg .control{stroke:var(--ink-2);stroke-width:1;stroke-dasharray:5 4}svg .mean{stroke:var(--ink-3);stroke-width:.7}svg .line{fill:none;stroke:var(--hair);stroke-width:1}svg .p{fill:var(--ink-3)}svg .step{stroke:var(--ink-3);stroke-width:1}
svg .s circle{fill:var(--signal);stroke:var(--signal-text);stroke-width:1}svg .s path{fill:var(--signal);stroke:var(--signal-text);stroke-width:1}
.caution{border:1.4px solid var(--ink);padding:8px 12px;margin-top:24px;background:var(--sheet)}
@media print{body{background:#fff;margin:0;max-width:none;font-size:12px}h2,h3{break-after:avoid}figure,.batch,tr{break-inside:avoid}@page{size:A4;margin:16mm 14mm}}
`;

/** The self-hosted fonts as data, where the packages are there; without them the page falls back to the system's. */
function fontFaces(): string {
  const require = createRequire(import.meta.url);
  const faces = [
    ["Sofia Sans", "sofia-sans"],
    ["Sofia Sans Semi Condensed", "sofia-sans-semi-condensed"],
  ] as const;
  return faces
    .map(([family, name]) => {
      let folder: string;
      try {
        folder = path.dirname(require.resolve(`@fontsource-variable/${name}/package.json`));
      } catch {
        return "";
      }
      const file = path.join(folder, "files", `${name}-latin-wght-normal.woff2`);
      if (!existsSync(file)) return "";
      const data = readFileSync(file).toString("base64");
      return `@font-face{font-family:"${family}";src:url(data:font/woff2;base64,${data}) format("woff2");font-weight:1 1000}`;
    })
    .join("\n");
}

function frameRows(frame: JudgedFrame): string {
  const { inspection, verdict, notMeasured, doubts } = frame;
  const said = namedCharacteristics(frame).map(judgedText);
  const words = [...(notMeasured === null ? [] : [`not measured: ${notMeasured}`]), ...said, ...doubts];
  return `<tr><td class="mono">${escapeHtml(inspection.serial)}</td><td class="mono">${escapeHtml(inspection.texts.batch ?? "")}</td><td class="nb">${MARK[verdict]} ${verdict}</td><td>${words.map(escapeHtml).join("<br>")}</td></tr>`;
}

const MOST_SERIALS = 40;

function serialList(serials: readonly string[]): string {
  const named = serials.slice(0, MOST_SERIALS).map((serial) => `<span class="mono">${escapeHtml(serial)}</span>`);
  return `${named.join(", ")}${serials.length > MOST_SERIALS ? ` and ${serials.length - MOST_SERIALS} more` : ""}`;
}

function batchBlock({ batch, decision, reasons, notes, frames }: CheckOutcome["batches"][number]): string {
  const mark = decision === "hold" ? MARK["does not conform"] : MARK.conforms;
  const listed = reasons.map(
    ({ text, serials }) =>
      `<li>${escapeHtml(text)}${serials.length > 1 ? ` <span class="soft">${serialList(serials)}</span>` : ""}</li>`,
  );
  const informing = notes.map(({ text }) => `<li class="soft">For information: ${escapeHtml(text)}</li>`);
  const items = [...listed, ...informing];
  return `<div class="batch">${mark} <b>${decision === "hold" ? "hold" : "ship"}</b> <span class="mono">${escapeHtml(batch ?? "without a batch")}</span>, ${countText(frames, "frame")}${items.length > 0 ? `<ul>${items.join("")}</ul>` : ""}</div>`;
}

/** The finding of one stream, as the chart's title. */
function streamTitle(stream: FileStream): string {
  const { subject, evaluation, frames, serials } = stream;
  const { signals, limits, reason } = evaluation;
  const name = streamText(subject);
  const head = name.slice(0, 1).toUpperCase() + name.slice(1);
  if (limits === null) return `${head}: ${reason === null ? "no limits" : noLimitsText(reason)}`;
  const first = signals[0];
  if (!first) return `${head}: no signal`;
  return `${head}: ${countText(signals.length, "signal")}, first at ${serials[frames[first.index] ?? 0] ?? ""}, ${signalWords(stream, first)}`;
}

function streamFigure(stream: FileStream): string {
  const { line, operation, drawing, evaluation } = stream;
  const limits = evaluation.limits;
  const basis =
    limits === null
      ? ""
      : `Control limits from ${countText(limits.frames, "frame")}${limits.provisional ? ", provisional" : ""}${stream.leftOut > 0 ? `, ${stream.leftOut} left out that do not conform` : ""}: ${limitsMethodText(limits.method)}. `;
  return `<figure><h3>${escapeHtml(streamTitle(stream))}</h3><p class="soft n">Line ${escapeHtml(line ?? "not named")}, ${escapeHtml(operation ?? "operation not named")}, ${drawing.key}, ${stream.subject.unit}</p>${streamChart(stream)}<figcaption class="soft">${escapeHtml(basis + capabilityText(stream.capability))}</figcaption></figure>`;
}

function titleBlock(file: string, outcome: CheckOutcome): string {
  const { drawings, verdicts } = outcome;
  const cell = (label: string, value: string) =>
    `<div><span class="lab">${label}</span><span class="v">${escapeHtml(value)}</span></div>`;
  return `<div class="tb">${[
    cell("file", path.basename(file)),
    cell("drawing", drawings.map(({ key, revision }) => `${key} rev. ${revision}`).join(", ")),
    cell("decision rule", [...new Set(drawings.map(({ decisionRule }) => RULE_WORDS[decisionRule]))].join(", ")),
    cell("conform", String(verdicts.conforms)),
    cell("not proven", String(verdicts["not proven"])),
    cell("not measured", String(verdicts["not measured"])),
    cell("do not conform", String(verdicts["does not conform"])),
  ].join("")}</div>`;
}

const RULE_WORDS = {
  "guard-u": "ISO 14253-1, guard band U (k = 2)",
  "guard-1.65uc": "ISO 14253-1, guard band 1.65 u_c",
  simple: "simple acceptance",
} as const satisfies Record<DecisionRule, string>;

/** The finding in one line: which batches hold, and for what. */
function findingOf({ batches, frames }: CheckOutcome): string {
  const held = batches.filter(({ decision }) => decision === "hold");
  const all = countText(batches.length, "batch", "batches");
  const [first] = held;
  if (!first) return `Every batch ships: ${countText(frames, "frame")} in ${all}`;
  if (held.length > 1) return `${held.length} of ${all} on hold`;
  const what = [...new Set(first.reasons.map(({ characteristic }) => characteristic ?? "frames not measured"))];
  return `1 of ${all} on hold: ${first.batch ?? "without a batch"}, ${what.join(", ")}`;
}

/** Gathers a report while frames come, and writes it at the end. */
export type Report = { readonly frame: (frame: JudgedFrame) => void; readonly html: (outcome: CheckOutcome) => string };

/** A report of one check as a single HTML file with everything in it, to read and to print. */
export function createReport(file: string): Report {
  const rows: string[] = [];
  let more = 0;
  return {
    frame(frame) {
      if (frame.verdict === "conforms" && frame.doubts.length === 0) return;
      if (rows.length < MOST_FRAMES) rows.push(frameRows(frame));
      else more += 1;
    },
    html(outcome) {
      const finding = findingOf(outcome);
      const invented = outcome.drawings.some((drawing) => drawing.invented);
      const problems =
        outcome.problemCount === 0
          ? ""
          : `<h2>Errors in the file</h2><p>Rows with an error were left out.</p><ul>${problemLines(outcome)
              .map((line) => `<li>${escapeHtml(line.trim())}</li>`)
              .join("")}</ul>`;
      const frames =
        rows.length === 0
          ? ""
          : `<h2>Frames that are not plainly good</h2><table><thead><tr><th>serial</th><th>batch</th><th>verdict</th><th>what was found</th></tr></thead><tbody>${rows.join("")}</tbody></table>${more > 0 ? `<p>and ${countText(more, "more frame", "more frames")}</p>` : ""}`;
      const notes =
        outcome.warnings.length === 0
          ? ""
          : `<h2>Notes</h2><ul>${outcome.warnings.map((warning) => `<li>${escapeHtml(warning)}</li>`).join("")}</ul>`;
      const demonstration = invented ? "<p><b>Demonstration limits.</b> " : "<p>";
      return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1"><title>${escapeHtml(finding)} - ${escapeHtml(path.basename(file))}</title><style>${fontFaces()}${STYLE}</style></head><body>
${titleBlock(file, outcome)}
<h1>${escapeHtml(finding)}</h1>
${problems}
<h2>Batches</h2>${outcome.batches.map(batchBlock).join("")}
${frames}
<h2>Streams</h2>${outcome.streams.map(streamFigure).join("")}
${notes}
<div class="caution">${demonstration}${CAUTIONS.map(escapeHtml).join("</p><p>")}</p></div>
</body></html>
`;
    },
  };
}
