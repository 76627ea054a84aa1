import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { caseSentence, causeName } from "@/lib/format/case-words";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import type { CauseCode } from "@/lib/quality/cases/case";
import { mayDo } from "@/lib/server/auth/permissions";
import { type CaseListItem, listCases, readAlarmScheme } from "@/lib/server/cases/queries";
import { listStreams, type StreamListItem } from "@/lib/server/drift/list-streams";
import { EmptyState } from "@/lib/ui/empty-state";
import { EntryForm } from "@/lib/ui/entry-form";
import { FilterNav } from "@/lib/ui/filter-nav";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../_components/work-page";
import { FalseCases, isFalse, SHOWN_WEEKS } from "./_components/false-cases";
import { LiveRefresh } from "../_components/live-refresh";
import { OpenCase } from "./_components/open-case";
import { type CellState, cellKey, groupKey, StreamGrid } from "./_components/stream-grid";
import { type Watched, WatchList } from "./_components/watch-list";
import { setBudgetAction } from "./cases/actions";
import { CASE_WORDS } from "./cases/words";
import { EVENT_WORDS } from "./events/words";
import { WHY_WORDS } from "./why/words";
import { DRIFT_WORDS as shared } from "./words";
import styles from "./overview.module.css";

export const metadata: Metadata = { title: shared.title };

const searchSchema = z.object({
  line: z.string().max(64).optional().catch(undefined),
  owner: z.enum(["me"]).optional().catch(undefined),
});

const words = CASE_WORDS.list;

const WEEK_MS = 7 * 86_400_000;
/** Cases with a picture; what is over so many is nothing that one looks at. */
const MOST_DRAWN = 8;

const OFFSET_PARTS = ["offset.12", "offset.3"];

/** What each cell of the grid says of itself: which case its stream is in, or that it is on watch. */
function cellStates(cases: readonly CaseListItem[], watched: readonly StreamListItem[]): Map<string, CellState> {
  const states = new Map<string, CellState>();
  for (const one of watched) states.set(cellKey(one, one.feature), { kind: "watch" });
  for (const one of cases)
    for (const { feature } of one.found.members) {
      const cell = OFFSET_PARTS.includes(feature) ? "offset" : feature;
      states.set(cellKey(one, cell), { kind: "case", number: one.number });
    }
  return states;
}

/** Forecasts of streams that no case is about, one a line and tool, the nearest first. */
function watchedOf(streams: readonly StreamListItem[], cases: readonly CaseListItem[]): readonly StreamListItem[] {
  const inCase = new Set(cases.flatMap((one) => one.found.members.map(({ feature }) => cellKey(one, feature))));
  return streams
    .filter((one) => one.forecast !== null && !inCase.has(cellKey(one, one.feature)))
    .toSorted((a, b) => (a.forecast?.interval[0] ?? 0) - (b.forecast?.interval[0] ?? 0));
}

function byTool(streams: readonly StreamListItem[]): Watched[] {
  const keyOf = (one: StreamListItem) => `${groupKey(one)} ${one.forecast?.tool ?? ""}`;
  const first = new Map(streams.toReversed().map((one) => [keyOf(one), one]));
  return [...first.values()].toReversed().map((one) => ({
    first: one,
    both: streams.filter((other) => keyOf(other) === keyOf(one)).length > 1,
  }));
}

function ClosedCase({ one, zone }: Readonly<{ one: CaseListItem; zone: string }>) {
  const { id, number, line, cause, found, sinceAt } = one;
  const name = cause === null ? "" : `: ${causeName(cause as CauseCode)}`;
  return (
    <li>
      <Link href={`/drift/cases/${id}`}>{`${CASE_WORDS.title(number)}, ${line}${name}`}</Link>
      <small>{keepWhole(words.closedSince(caseSentence(found), formatDay(sinceAt, { zone })))}</small>
    </li>
  );
}

export default async function DriftPage({ searchParams }: PageProps<"/drift">) {
  const viewer = await requireViewer("/drift", "drift.view");
  const { line, owner } = searchSchema.parse(await searchParams);
  const { plantZone: zone } = viewer;
  const now = Date.now();
  const recently = new Date(now - SHOWN_WEEKS * WEEK_MS).toISOString();
  const [all, open, closed, recent, scheme] = await Promise.all([
    listStreams(viewer),
    listCases(viewer, { open: "true", line, limit: 200 }),
    listCases(viewer, { open: "false", line, limit: 10 }),
    listCases(viewer, { since: recently, limit: 200 }),
    readAlarmScheme(viewer),
  ]);
  const lines = [...new Set(all.streams.map((stream) => stream.line))].toSorted();
  const streams = all.streams.filter((stream) => line === undefined || stream.line === line);
  const offsets = all.offsets.filter((one) => line === undefined || one.line === line);
  const shown = open.cases.filter(({ ownerId }) => owner === undefined || ownerId === viewer.personId);
  const watched = watchedOf(streams, open.cases);
  const states = cellStates(open.cases, watched);
  const moved = [...states.values()].filter(({ kind }) => kind === "case").length;
  const total = streams.length + offsets.length;
  const over = open.cases.filter(({ overAt, stands }) => overAt !== null || !stands).length;
  const lineId = line === undefined ? undefined : streams[0]?.lineId;
  const addressOf = (wanted: { line?: string; owner?: string }) => {
    const query = new URLSearchParams(wanted).toString();
    return query === "" ? "/drift" : `/drift?${query}`;
  };
  const kept = owner === undefined ? {} : { owner };
  const budget = formatFixed(scheme.budget, Number.isInteger(scheme.budget) ? 0 : 2);
  const approved = streams.filter(({ limits }) => limits === "approved").length;
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={words.open(open.cases.length, over)}
            lead={open.cases.length === 0 ? words.quietLead(total) : words.lead(moved, total)}
            status={
              <>
                <LiveRefresh zone={zone} {...(lineId === undefined ? {} : { lineId })} />
                <Link href={line === undefined ? "/drift/why" : `/drift/why?line=${encodeURIComponent(line)}`}>
                  {WHY_WORDS.link}
                </Link>
                <Link href="/drift/events">{EVENT_WORDS.title}</Link>
              </>
            }
          />
        }
        titleBlock={
          <TitleBlock
            cells={[
              {
                label: shared.foot.shown,
                value: line === undefined ? shared.foot.allShown : shared.foot.lineShown(line),
              },
              {
                label: shared.foot.alarms,
                value: shared.foot.budget(budget, scheme.version),
              },
              { label: shared.foot.limits, value: shared.foot.approved(approved, streams.length) },
              { label: shared.foot.asOf, value: formatMoment(now, { zone }) },
            ]}
          />
        }
      >
        <FilterNav label={shared.filter} flush>
          <Link href={addressOf(kept)} aria-current={line === undefined ? "page" : undefined}>
            {shared.allLines}
          </Link>
          {lines.map((key) => (
            <Link key={key} href={addressOf({ line: key, ...kept })} aria-current={line === key ? "page" : undefined}>
              {key}
            </Link>
          ))}
          <Link
            href={addressOf({
              ...(line === undefined ? {} : { line }),
              ...(owner === undefined ? { owner: "me" } : {}),
            })}
            aria-current={owner === undefined ? undefined : "page"}
          >
            {shared.mine}
          </Link>
        </FilterNav>
        {streams.length === 0 ? (
          <EmptyState title={all.streams.length === 0 ? shared.noStream : shared.noneOnLine}>
            {all.streams.length === 0 ? shared.noStreamHint : shared.noneOnLineHint}
          </EmptyState>
        ) : null}
        <div className={styles.columns}>
          <div>
            {open.cases.length > 0 ? (
              <section>
                <SectionHeading aside={words.headingAside}>{words.heading}</SectionHeading>
                {shown.length === 0 ? (
                  <EmptyState title={words.noneMine}>{words.noneMineHint}</EmptyState>
                ) : (
                  <ul>
                    {shown.map((one, at) => (
                      <OpenCase key={one.id} one={one} viewer={viewer} isDrawn={at < MOST_DRAWN} now={now} />
                    ))}
                  </ul>
                )}
              </section>
            ) : null}
            {watched.length > 0 ? (
              <section>
                <SectionHeading aside={shared.watch.aside}>{shared.watch.heading}</SectionHeading>
                <WatchList watched={byTool(watched)} />
              </section>
            ) : null}
            {closed.cases.length > 0 ? (
              <section>
                <SectionHeading aside={words.closedAside}>{words.closed}</SectionHeading>
                <ul className={styles.closed}>
                  {closed.cases.map((one) => (
                    <ClosedCase key={one.id} one={one} zone={zone} />
                  ))}
                </ul>
              </section>
            ) : null}
          </div>
          <div>
            {streams.length > 0 ? (
              <section>
                <SectionHeading aside={shared.grid.aside}>{shared.grid.heading(total)}</SectionHeading>
                <StreamGrid streams={streams} offsets={offsets} states={states} />
              </section>
            ) : null}
            <section>
              <SectionHeading aside={words.schemeAside(budget)}>{words.schemeHeading}</SectionHeading>
              <FalseCases cases={recent.cases} now={now} zone={zone} />
              <p className={styles.budget}>
                <b>{CASE_WORDS.weeks.inside(recent.cases.filter(isFalse).length, SHOWN_WEEKS)}</b>{" "}
                {scheme.version === 0
                  ? words.noScheme
                  : words.scheme(budget, formatCounted(scheme.streams, "stream"), scheme.version)}
              </p>
              {mayDo(viewer, "drift.set-budget") ? (
                <details className={styles.change}>
                  <summary>{words.changeBudget}</summary>
                  <EntryForm
                    action={setBudgetAction}
                    submit={words.setBudget}
                    done={words.budgetSet}
                    kind="plain"
                    keep
                    fields={[
                      {
                        name: "budget",
                        label: words.budget,
                        kind: "number",
                        hint: words.budgetHint,
                        value: String(scheme.budget),
                      },
                    ]}
                  />
                </details>
              ) : null}
            </section>
          </div>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
