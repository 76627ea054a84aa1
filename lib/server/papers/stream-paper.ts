import "server-only";
import { streamChart } from "@/lib/charts/stream-chart";
import { formatMoment, formatShortDay } from "@/lib/format/date-text";
import { formatCount, formatCounted, formatUncertainty, unitText } from "@/lib/format/number-text";
import { formatStreamValue, streamTitle, streamUnit } from "@/lib/format/stream-words";
import type { PaperAbout } from "@/lib/schemas/paper";
import { getStream, type StreamPage } from "../drift/queries";
import { openPaper } from "../pdf/open-document";
import { writeEventTable } from "./event-table";
import { fileNameOf, type MadePaper, type PaperRun } from "./made-paper";
import { PAPER_WORDS } from "./words";

const words = PAPER_WORDS.stream;
const { columns } = PAPER_WORDS;

function limitsText({ limits, feature }: StreamPage, zone: string): string {
  if (limits === null) return words.none;
  const shown = [limits.lower, limits.upper].flatMap((value) =>
    value === null ? [] : formatStreamValue(value, feature),
  );
  const approved =
    limits.approvedAt === null
      ? words.provisional
      : words.approvedBy(limits.approvedBy ?? "", formatMoment(limits.approvedAt, { zone }));
  return words.version(shown.join(" to "), limits.version, approved);
}

function toleranceText({ tolerance, feature }: StreamPage): string {
  const shown = [tolerance?.lower ?? null, tolerance?.upper ?? null].flatMap((value) =>
    value === null ? [] : formatStreamValue(value, feature),
  );
  return shown.length === 0 ? words.none : shown.join(" to ");
}

/** A difference of sizes in the unit people compare in. */
function uncertaintyText(uncertainty: number, feature: StreamPage["feature"]): string {
  if (streamUnit(feature).unit !== "mm") return formatStreamValue(uncertainty, feature);
  return formatUncertainty(uncertainty * 1000, "µm", 1);
}

/** Chart of the newest frames of a stream, its limits, what was done meanwhile, and every value. */
export async function makeStreamPaper(
  about: Extract<PaperAbout, { kind: "stream" }>,
  { viewer, plantName, now, tell }: PaperRun,
): Promise<MadePaper> {
  const stream = await getStream(viewer, about.streamId, about.frames);
  tell(0.3);
  const { plantZone: zone } = viewer;
  const { feature, points, tolerance, limits, events, total } = stream;
  const { unit, decimals } = streamUnit(feature);
  const first = total - points.length + 1;
  const title = streamTitle(feature);
  const frames = formatCounted(points.length, "frame");
  const paper = openPaper({
    title,
    lead: words.lead(stream.line, stream.operationName, stream.drawing.title, frames),
    stamp: PAPER_WORDS.stamp(plantName, formatMoment(now, { zone })),
    madeAt: now,
    pageOf: PAPER_WORDS.pageOf,
  });
  paper.pairs([
    [words.limitsOfDrawing, toleranceText(stream)],
    [words.uncertainty, tolerance === null ? words.none : uncertaintyText(tolerance.uncertainty, feature)],
    [words.controlLimits, limitsText(stream, zone)],
    [words.frames, words.of(formatCount(points.length), formatCount(total))],
  ]);
  if (points.length === 0) paper.paragraph(PAPER_WORDS.noFrames);
  else {
    const indexAt = (time: number): number => {
      const found = points.findIndex((point) => point.at >= time);
      return found < 0 ? points.length : found;
    };
    const from = limits === null ? 0 : indexAt(Date.parse(limits.baselineFrom));
    const to = limits === null ? -1 : indexAt(Date.parse(limits.baselineTo) + 1) - 1;
    const spec = streamChart({
      frame: points.map((_, index) => first + index),
      value: points.map(({ value }) => value),
      serial: points.map(({ serial }) => serial),
      unit: unitText(unit),
      decimals,
      lower: tolerance?.lower ?? null,
      upper: tolerance?.upper ?? null,
      guard: tolerance?.uncertainty ?? 0,
      centre: limits?.center ?? null,
      lowerControl: limits?.lower ?? null,
      upperControl: limits?.upper ?? null,
      baseline: limits !== null && to > from ? { from: first + from, to: first + to } : null,
      flagged: [],
      events: events.map((event) => ({
        at: first + indexAt(Date.parse(event.at)) - 0.5,
        text: event.subject === null ? event.kind : `${event.kind}, ${event.subject}`,
      })),
    });
    const day = (index: number): string => formatShortDay(points[index]?.at ?? 0, zone);
    paper.chart(
      { spec, title, finding: `${day(0)} to ${day(points.length - 1)}` },
      words.alternative(title, frames, points[0]?.serial ?? "", points.at(-1)?.serial ?? ""),
    );
  }
  writeEventTable(paper, words.events, events, zone);
  paper.section(words.table);
  paper.table(
    words.table,
    [
      { label: columns.frame, share: 0.6, align: "right" },
      { label: columns.serial, share: 1, face: "code" },
      { label: columns.when, share: 1.2 },
      { label: columns.value(unitText(unit)), share: 0.9, align: "right" },
      { label: columns.verdict, share: 1 },
      { label: columns.tool, share: 0.8, face: "code" },
    ],
    points
      .map((point, index) => [
        String(first + index),
        point.serial,
        formatMoment(point.at, { zone }),
        formatStreamValue(point.value, feature),
        point.verdict,
        point.tool ?? "",
      ])
      .reverse(),
  );
  tell(0.9);
  paper.paragraph(PAPER_WORDS.estimates);
  return { fileName: fileNameOf(stream.line, feature), content: await paper.close() };
}
