import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatMoment } from "@/lib/format/date-text";
import { EVENT_KINDS } from "@/lib/schemas/event";
import { shownMoment } from "@/lib/schemas/plant-day";
import { mayDo } from "@/lib/server/auth/permissions";
import { type EventItem, listEventLines, listEvents } from "@/lib/server/events/queries";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { CorrectEvent } from "./_components/correct-event";
import { PAPER_REQUEST_WORDS } from "../paper-words";
import { EventForm } from "./_components/event-form";
import { ShiftPaper } from "./_components/shift-paper";
import styles from "./events.module.css";
import { EVENT_WORDS as words } from "./words";

export const metadata: Metadata = { title: words.title };

const searchSchema = z.object({
  line: z.string().max(64).optional().catch(undefined),
  kind: z.enum(EVENT_KINDS).optional().catch(undefined),
  which: z.string().max(64).optional().catch(undefined),
  before: z.uuid().optional().catch(undefined),
});

/** Filled in: the last eight hours. */
const SHIFT_MS = 8 * 3_600_000;

function columnsFor(zone: string, mayCorrect: boolean): readonly TableColumn<EventItem>[] {
  const { columns } = words;
  const wrong = ({ correction }: EventItem) => (correction === null ? undefined : styles.wrong);
  return [
    { key: "when", label: columns.when, cell: (event) => formatMoment(event.at, { zone }) },
    { key: "line", label: columns.line, kind: "code", cell: (event) => event.line ?? words.allLines },
    { key: "kind", label: columns.kind, cell: (event) => <span className={wrong(event)}>{event.kind}</span> },
    { key: "subject", label: columns.subject, kind: "code", cell: (event) => event.subject ?? "–" },
    {
      key: "text",
      label: columns.text,
      cell: (event) => <span className={wrong(event)}>{keepWhole(event.text)}</span>,
    },
    { key: "by", label: columns.by, cell: (event) => event.by ?? words.aProgram },
    {
      key: "state",
      label: columns.state,
      cell: (event) => {
        if (event.correction === null)
          return mayCorrect ? (
            <CorrectEvent event={event} shownAt={shownMoment(new Date(event.at), zone)} />
          ) : (
            words.stands
          );
        const { insteadId, reason, by, at } = event.correction;
        return (
          <>
            <strong>{insteadId === null ? words.notDoneMark : words.correctedMark}</strong>{" "}
            {words.because(reason, by ?? words.aProgram, formatMoment(at, { zone }))}
          </>
        );
      },
    },
  ];
}

export default async function EventsPage({
  searchParams,
}: Readonly<{ searchParams: Promise<Record<string, string | string[] | undefined>> }>) {
  const viewer = await requireViewer("/drift/events", "drift.view");
  const { line, kind, which, before } = searchSchema.parse(await searchParams);
  const [{ events, next }, lines] = await Promise.all([listEvents(viewer, { line, before }), listEventLines(viewer)]);
  const mayEnter = mayDo(viewer, "drift.add-event");
  const now = Date.now();
  const addressOf = (key: string | undefined, older?: string) => {
    const query = new URLSearchParams({
      ...(key ? { line: key } : {}),
      ...(older ? { before: older } : {}),
    }).toString();
    return query === "" ? "/drift/events" : `/drift/events?${query}`;
  };
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={line === undefined ? words.title : words.onLine(line)}
            lead={words.lead}
            status={<Link href="/drift">{words.backToDrift}</Link>}
          />
        }
      >
        <FilterNav label={words.filter}>
          <Link href={addressOf(undefined)} aria-current={line === undefined ? "page" : undefined}>
            {words.allLines}
          </Link>
          {lines.map(({ key }) => (
            <Link key={key} href={addressOf(key)} aria-current={line === key ? "page" : undefined}>
              {key}
            </Link>
          ))}
        </FilterNav>
        {mayEnter ? (
          <section id="enter">
            <SectionHeading
              aside={
                <Link href={`/drift/events/codes${line ? `?line=${encodeURIComponent(line)}` : ""}`}>
                  {words.codes}
                </Link>
              }
            >
              {words.enter}
            </SectionHeading>
            <EventForm
              key={`${line ?? ""} ${kind ?? ""} ${which ?? ""}`}
              lines={lines}
              filled={{ line, kind, subject: which }}
            />
          </section>
        ) : null}
        {line !== undefined && lines.some(({ key }) => key === line) && mayDo(viewer, "records.export") ? (
          <section>
            <SectionHeading>{PAPER_REQUEST_WORDS.shift.title}</SectionHeading>
            <ShiftPaper
              key={line}
              line={line}
              zone={viewer.plantZone}
              from={shownMoment(new Date(now - SHIFT_MS), viewer.plantZone).slice(0, 16)}
              to={shownMoment(new Date(now), viewer.plantZone).slice(0, 16)}
            />
          </section>
        ) : null}
        <section>
          <SectionHeading>{words.table}</SectionHeading>
          <DataTable
            caption={words.table}
            captionHidden
            rowHead="when"
            rows={events}
            rowKey={(event) => event.id}
            columns={columnsFor(viewer.plantZone, mayEnter)}
            empty={<EmptyState title={words.none}>{words.noneHint}</EmptyState>}
            more={next === null ? undefined : <Link href={addressOf(line, next)}>{words.older}</Link>}
          />
        </section>
      </PageFrame>
    </WorkPage>
  );
}
