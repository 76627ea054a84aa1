import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import {
  answerWords,
  caseHeadline,
  causeName,
  causeWhy,
  changeWords,
  costWords,
  sinceWords,
} from "@/lib/format/case-words";
import { formatMoment } from "@/lib/format/date-text";
import { streamName, streamTitle } from "@/lib/format/stream-words";
import type { CauseCode, RankedCause } from "@/lib/quality/cases/case";
import { uuidSchema } from "@/lib/schemas/uuid";
import { mayDo } from "@/lib/server/auth/permissions";
import { readCaseFrames } from "@/lib/server/cases/case-frames";
import { listCaseOwners } from "@/lib/server/cases/case-owners";
import { type CaseHistoryEntry, type CasePage as Page, readCase } from "@/lib/server/cases/queries";
import { streamOf } from "@/lib/server/drift/charted-frames";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EntryForm } from "@/lib/ui/entry-form";
import { Tick } from "@/lib/ui/field";
import { KeyValues } from "@/lib/ui/key-values";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import {
  assignCaseCauseAction,
  assignOwnerAction,
  closeCaseAction,
  noteStepAction,
  reopenCaseAction,
} from "../actions";
import { CASE_WORDS as words } from "../words";
import { casePictures } from "./case-pictures";
import styles from "../cases.module.css";

export const metadata: Metadata = { title: words.pageTitle };

function causeColumns(first: RankedCause | undefined): readonly TableColumn<RankedCause>[] {
  const { causes } = words;
  const stateOf = (one: RankedCause) => {
    if (one.lnOdds === null) return causes.excluded;
    return one === first ? causes.likely : causes.possible;
  };
  return [
    {
      key: "cause",
      label: causes.cause,
      cell: ({ cause, subject }) => `${causeName(cause)}${subject === null ? "" : `, ${subject}`}`,
    },
    { key: "state", label: causes.state, cell: stateOf },
    { key: "why", label: causes.why, cell: (one) => causeWhy(one) },
  ];
}

function entryText({ kind, text, data }: CaseHistoryEntry): string {
  if (kind === "owner") return text ?? words.nobodyNow;
  if (kind === "cause") return causeName((text ?? "") as CauseCode);
  if (kind === "gone") return data["withdrawn"] === true ? words.goneBecause.withdrawn : words.goneBecause.changed;
  if (kind === "closed") return `${text ?? ""}${data["hasNewLevel"] === true ? ` (${words.withNewLevel})` : ""}`;
  return text ?? (typeof data["serial"] === "string" ? data["serial"] : "–");
}

function historyColumns(zone: string): readonly TableColumn<CaseHistoryEntry>[] {
  const { history } = words;
  return [
    { key: "when", label: history.when, cell: ({ at }) => formatMoment(at, { zone }) },
    { key: "what", label: history.what, cell: ({ kind }) => words.entry[kind] },
    { key: "words", label: history.words, cell: entryText },
    { key: "by", label: history.by, cell: ({ by }) => by ?? history.itself },
  ];
}

function nowWords({ state, stands, overAt, closedAt }: Page, zone: string): string {
  const { facts, list } = words;
  if (state === "closed" && closedAt !== null) return facts.closedOn(formatMoment(closedAt, { zone }));
  if (!stands) return list.gone;
  return overAt === null ? facts.stillSo : facts.overSince(formatMoment(overAt, { zone }));
}

function pairsOf(page: Page, zone: string) {
  const { facts } = words;
  const { found } = page;
  return [
    { label: facts.where, value: words.onLine(page.lineName, page.operationName, page.drawing) },
    { label: facts.since, value: `${sinceWords(found)}, ${formatMoment(page.sinceAt, { zone })}` },
    { label: facts.now, value: nowWords(page, zone) },
    { label: facts.size, value: changeWords(found.kind, found.change, found.towards) },
    { label: facts.cost, value: costWords(found, page.heldBatches) },
    { label: facts.owner, value: page.owner ?? facts.nobody },
    { label: facts.cause, value: page.cause === null ? facts.noCause : causeName(page.cause as CauseCode) },
    ...(page.batches.length === 0
      ? []
      : [
          {
            label: facts.batches,
            value: (
              <span className={styles.links}>
                {page.batches.map(({ batch, isHeld }) => (
                  <Link key={batch} href={`/gate/batches/${encodeURIComponent(batch)}`}>
                    {batch}
                    {isHeld ? ` (${facts.held})` : ""}
                  </Link>
                ))}
              </span>
            ),
          },
        ]),
    {
      label: facts.streams,
      value: (
        <span className={styles.links}>
          {page.streams.map(({ id, feature }) => (
            <Link key={id} href={`/drift/streams/${id}`}>
              {streamName(feature)}
            </Link>
          ))}
        </span>
      ),
    },
    ...(found.earlier.length === 0
      ? []
      : [
          {
            label: facts.earlier,
            value: found.earlier.map(({ since, until }) => facts.from(since.serial, until)).join("; "),
          },
        ]),
  ];
}

function Acts({
  page,
  owners,
  mayManage,
  mayNote,
}: Readonly<{
  page: Page;
  owners: readonly { readonly id: string; readonly name: string }[];
  mayManage: boolean;
  mayNote: boolean;
}>) {
  const { act } = words;
  const hidden = { name: "caseId", label: "", kind: "hidden", value: page.id } as const;
  const isOpen = page.state === "open";
  const possible = page.found.causes.filter(({ lnOdds }) => lnOdds !== null);
  return (
    <section className={styles.acts}>
      <SectionHeading>{act.heading}</SectionHeading>
      {mayNote ? (
        <EntryForm
          action={noteStepAction}
          submit={act.note}
          done={act.noted}
          fields={[hidden, { name: "text", label: act.step, hint: act.stepHint }]}
        />
      ) : null}
      {mayManage && isOpen ? (
        <>
          <EntryForm
            action={assignOwnerAction}
            submit={act.give}
            done={act.given}
            kind="plain"
            keep
            fields={[
              hidden,
              {
                name: "ownerId",
                label: act.owner,
                kind: "choice",
                optional: true,
                value: page.ownerId ?? "",
                options: owners.map(({ id, name }) => ({ value: id, label: name })),
              },
            ]}
          />
          <EntryForm
            action={assignCaseCauseAction}
            submit={act.assign}
            done={act.assigned}
            kind="plain"
            fields={[
              hidden,
              {
                name: "cause",
                label: act.cause,
                kind: "choice",
                optional: true,
                hint: act.causeHint,
                value: page.cause ?? "",
                options: possible.map(({ cause }) => ({ value: cause, label: causeName(cause) })),
              },
              { name: "own", label: act.own, optional: true },
            ]}
          />
          <EntryForm
            action={closeCaseAction}
            submit={act.close}
            done={act.closed}
            kind="plain"
            fields={[hidden, { name: "reason", label: act.reason }]}
          >
            {page.overAt === null ? (
              <Tick control={<input type="checkbox" name="hasNewLevel" />}>{act.newLevel}</Tick>
            ) : null}
          </EntryForm>
        </>
      ) : null}
      {mayManage && page.state === "closed" ? (
        <EntryForm
          action={reopenCaseAction}
          submit={act.reopen}
          done={act.reopened}
          kind="plain"
          fields={[hidden, { name: "reason", label: act.reason }]}
        />
      ) : null}
    </section>
  );
}

export default async function CasePage({ params }: PageProps<"/drift/cases/[id]">) {
  const { id } = await params;
  if (!uuidSchema.safeParse(id).success) notFound();
  const viewer = await requireViewer(`/drift/cases/${encodeURIComponent(id)}`, "drift.view");
  const page = await readCase(viewer, id).catch((error: unknown) => {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  });
  const { plantZone: zone } = viewer;
  const mayManage = mayDo(viewer, "drift.manage-cases");
  const mayNote = mayDo(viewer, "drift.note-step");
  const owners = mayManage ? await listCaseOwners(viewer) : [];
  const { found, entries, number } = page;
  const drawn = page.streams.map(({ feature }) => streamOf(feature).feature);
  const frames = await readCaseFrames(viewer, id, drawn);
  const pictures = frames === null ? [] : casePictures(found, frames, zone);
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={`${words.title(number)}: ${caseHeadline(found)}`}
            lead={answerWords(found.answer)}
            status={<Link href="/drift">{words.backToDrift}</Link>}
          />
        }
      >
        <div className={styles.sections}>
          <KeyValues pairs={pairsOf(page, zone)} />
          {pictures.length === 0 ? null : (
            <section>
              <SectionHeading>{words.picture.heading}</SectionHeading>
              {pictures.map(({ feature, spec }) => (
                <ChartCanvas
                  key={feature}
                  spec={spec}
                  title={streamTitle(feature)}
                  alternative={words.picture.alternative(streamTitle(feature), found.since.serial)}
                  size="medium"
                  fileName={`case-${number}-${feature}`}
                  mayExport={mayDo(viewer, "records.export")}
                />
              ))}
            </section>
          )}
          <section>
            <SectionHeading aside={words.causes.aside}>{words.causes.heading}</SectionHeading>
            <DataTable
              caption={words.causes.table}
              captionHidden
              rowHead="cause"
              rows={found.causes}
              rowKey={({ cause }) => cause}
              columns={causeColumns(found.causes[0])}
            />
          </section>
          <section>
            <SectionHeading>{words.events.heading}</SectionHeading>
            {found.events.length === 0 ? (
              <p>{words.events.none}</p>
            ) : (
              <ul>
                {found.events.map((event) => (
                  <li key={event.id}>{keepWhole(`${formatMoment(event.at, { zone })}: ${event.text}`)}</li>
                ))}
              </ul>
            )}
          </section>
          {mayManage || mayNote ? <Acts page={page} owners={owners} mayManage={mayManage} mayNote={mayNote} /> : null}
          <section>
            <SectionHeading>{words.history.heading}</SectionHeading>
            <DataTable
              caption={words.history.table}
              captionHidden
              rowHead="when"
              rows={entries}
              rowKey={(entry) => entry.id}
              columns={historyColumns(zone)}
            />
          </section>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
