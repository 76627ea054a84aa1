import "server-only";
import { formatMoment } from "@/lib/format/date-text";
import { formatCount, formatFixed } from "@/lib/format/number-text";
import { verdictTitle } from "@/lib/format/verdict-reasons";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { PaperAbout } from "@/lib/schemas/paper";
import { getPool } from "../db/client";
import { frameColumns } from "../db/columns/frame";
import { gaugeColumns } from "../db/columns/gauge";
import { inspectionColumns } from "../db/columns/inspection";
import { eventColumns, notCorrected } from "../db/columns/event";
import { type RowOf, together } from "../db/columns/table-columns";
import { zeroCheckColumns } from "../db/columns/zero-check";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { openPaper } from "../pdf/open-document";
import { writeEventTable } from "./event-table";
import { fileNameOf, type MadePaper, type PaperRun } from "./made-paper";
import { paperLineId } from "./paper-line";
import { PAPER_WORDS } from "./words";

const words = PAPER_WORDS.shift;
const { columns } = PAPER_WORDS;

/** A week of a fast line; more would make a book. */
const MOST_INSPECTIONS = 5000;

const measured = together(
  inspectionColumns("i", ["measuredAt", "verdict", "gaugeKeys"]),
  inspectionColumns("i", { because: "judgement" }),
  frameColumns("f", ["serial"]),
);
type Measured = RowOf<typeof measured> & {
  readonly because: readonly ToldCharacteristic[];
  readonly inspector: string | null;
  readonly isWithdrawn: boolean;
};
const done = eventColumns("event", ["at", "kind", "subject", "text"]);
const checked = together(zeroCheckColumns("z", ["at", "driftUm", "limitUm"]), gaugeColumns("g", ["key"]));

/** What a line measured in a stretch of time: counts, what was done, zero checks, and every inspection. */
export async function makeShiftPaper(
  about: Extract<PaperAbout, { kind: "shift" }>,
  { viewer, plantName, now, tell }: PaperRun,
): Promise<MadePaper> {
  const pool = getPool();
  const { plantId, plantZone: zone } = viewer;
  const [from, to] = [new Date(about.from), new Date(about.to)];
  const lineId = await paperLineId(plantId, about.line);
  const [inspections, events, checks] = await Promise.all([
    pool.query<Measured>(sql`
      select ${measured}, ${nameThen("p", "i.measured_at")} as inspector,
        exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id) as "isWithdrawn"
      from inspection i
      join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      left join person p on p.plant_id = i.plant_id and p.id = i.inspector_id
      where i.plant_id = ${plantId} and i.line_id = ${lineId} and i.measured_at >= ${from} and i.measured_at < ${to}
      order by i.measured_at, i.id limit ${MOST_INSPECTIONS + 1}`),
    pool.query<RowOf<typeof done>>(sql`
      select ${done} from event
      where plant_id = ${plantId} and (line_id = ${lineId} or line_id is null) and at >= ${from} and at < ${to} and ${notCorrected}
      order by at, id`),
    pool.query<RowOf<typeof checked>>(sql`
      select ${checked} from zero_check z join gauge g on g.plant_id = z.plant_id and g.id = z.gauge_id
      where z.plant_id = ${plantId} and z.at >= ${from} and z.at < ${to} and exists (
        select 1 from inspection i where i.plant_id = z.plant_id and i.line_id = ${lineId} and i.measured_at >= ${from}
          and i.measured_at < ${to} and g.key = any(i.gauge_keys))
      order by z.at, z.id`),
  ]);
  tell(0.4);
  const shown = inspections.rows.slice(0, MOST_INSPECTIONS);
  const valid = shown.filter(({ isWithdrawn }) => !isWithdrawn);
  const countOf = (verdict: string): string => formatCount(valid.filter((one) => one.verdict === verdict).length);
  const paper = openPaper({
    title: words.title(about.line),
    lead: words.lead(formatMoment(from, { zone }), formatMoment(to, { zone })),
    stamp: PAPER_WORDS.stamp(plantName, formatMoment(now, { zone })),
    madeAt: now,
    pageOf: PAPER_WORDS.pageOf,
  });
  paper.pairs([
    [words.measured, formatCount(new Set(valid.map(({ serial }) => serial)).size)],
    [words.conforms, countOf("conforms")],
    [words.nonconforming, countOf("does not conform")],
    [words.notProven, countOf("not proven")],
  ]);
  writeEventTable(paper, words.events, events.rows, zone);
  if (checks.rows.length > 0) {
    paper.section(words.checks);
    paper.table(
      words.checks,
      [
        { label: columns.when, share: 1.2 },
        { label: columns.gauge, share: 1, face: "code" },
        { label: columns.drift, share: 1, align: "right" },
        { label: columns.limit, share: 1, align: "right" },
        { label: columns.result, share: 1 },
      ],
      checks.rows.map(({ at, key, driftUm, limitUm }) => [
        formatMoment(at, { zone }),
        key,
        formatFixed(driftUm, 1),
        formatFixed(limitUm, 1),
        Math.abs(driftUm) <= limitUm ? words.passed : words.failed,
      ]),
    );
  }
  paper.section(words.frames);
  if (shown.length === 0) paper.paragraph(PAPER_WORDS.noFrames);
  else
    paper.table(
      words.frames,
      [
        { label: columns.when, share: 1.7 },
        { label: columns.serial, share: 1, face: "code" },
        { label: columns.verdict, share: 1.1 },
        { label: columns.because, share: 1.9 },
        { label: columns.inspector, share: 1 },
        { label: columns.gauges, share: 1.3, face: "code" },
      ],
      shown.map((one) => [
        formatMoment(one.measuredAt, { zone }),
        one.serial,
        one.isWithdrawn ? words.withdrawn : one.verdict,
        one.because.map((judged) => verdictTitle(judged)).join("; "),
        one.inspector ?? "",
        one.gaugeKeys.join(" "),
      ]),
    );
  if (inspections.rows.length > MOST_INSPECTIONS) paper.paragraph(words.more(MOST_INSPECTIONS));
  tell(0.9);
  paper.paragraph(PAPER_WORDS.estimates);
  return { fileName: fileNameOf(about.line, about.from.slice(0, 10)), content: await paper.close() };
}
