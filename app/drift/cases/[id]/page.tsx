import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { sampleMean } from "@/lib/core/numerics/descriptive-statistics";
import { caseSentence, causeName } from "@/lib/format/case-words";
import { formatOclock } from "@/lib/format/clock-text";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { streamName, streamTitle } from "@/lib/format/stream-words";
import type { CauseCode } from "@/lib/quality/cases/case";
import { casePlaces } from "@/lib/quality/cases/case-series";
import { uuidSchema } from "@/lib/schemas/uuid";
import { mayDo } from "@/lib/server/auth/permissions";
import { listCaseOwners } from "@/lib/server/cases/case-owners";
import { type CaseFrames, readCaseFrames } from "@/lib/server/cases/case-frames";
import { type CaseHistoryEntry, type CasePage as Page, readCase } from "@/lib/server/cases/queries";
import { streamOf } from "@/lib/server/drift/charted-frames";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TargetPlot } from "@/lib/ui/target-plot";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { LiveRefresh } from "../../../_components/live-refresh";
import { CASE_WORDS as words } from "../words";
import { CaseDecision } from "./_components/case-decision";
import { CaseStepList } from "./_components/case-step-list";
import { CaseToDo } from "./_components/case-to-do";
import { CauseTable } from "./_components/cause-table";
import { type CasePicture, casePictures } from "./case-pictures";
import styles from "../cases.module.css";

export const metadata: Metadata = { title: words.pageTitle };

/** Pictures under each other: more streams stand as links. */
const MOST_PICTURES = 6;

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

function leadWords({ state, stands, overAt, closedAt, found, sinceAt, streams }: Page, zone: string): string {
  const { head } = words;
  const now =
    state === "closed" && closedAt !== null
      ? head.closedOn(formatMoment(closedAt, { zone }))
      : !stands
        ? head.gone
        : overAt === null
          ? head.goesOn
          : head.over(formatMoment(overAt, { zone }));
  const others = streams.filter(({ feature }) => feature !== found.lead).map(({ feature }) => streamName(feature));
  return [
    head.since(found.since.serial, formatMoment(sinceAt, { zone })),
    head.frames(found.frames, found.outside.length),
    now,
    ...(others.length === 0 ? [] : [head.withIt(others.join(", "))]),
    ...(found.earlier.length === 0
      ? []
      : [head.earlier(found.earlier.map(({ since, until }) => head.from(since.serial, until)).join("; "))]),
  ].join(" ");
}

/** Where the NDS axis lay before and lies since; the move only while it goes on. */
function Target({ page, frames }: Readonly<{ page: Page; frames: CaseFrames }>) {
  const { found, overAt } = page;
  const places = casePlaces(
    found,
    frames.frames.map(({ serial }) => serial),
  );
  if (places === null || found.towards === null || frames.zoneUm === null) return null;
  const vectors = frames.frames.flatMap(({ serial, offset }, at) =>
    offset === null ? [] : [{ at, serial, towards12Um: offset[0], towards3Um: offset[1] }],
  );
  const since = vectors.filter(({ at }) => at >= places.since && at <= places.until);
  if (since.length === 0) return null;
  return (
    <div className={styles.target}>
      <TargetPlot
        side="ds"
        zoneUm={frames.zoneUm}
        baseline={vectors.filter(({ at }) => at < places.earliest)}
        recent={since}
        mean={{
          towards12Um: sampleMean(since.map(({ towards12Um }) => towards12Um)),
          towards3Um: sampleMean(since.map(({ towards3Um }) => towards3Um)),
          circleUm: null,
        }}
        ellipse={null}
        adviseMove={overAt === null}
        baselineName={words.picture.before}
        recentName={words.picture.during(found.since.serial)}
      />
    </div>
  );
}

function Cost({ page }: Readonly<{ page: Page }>) {
  const { cost } = words;
  const { found, heldBatches, batches } = page;
  const tiles = [
    { label: cost.outside, value: found.outside.length, isLoud: found.outside.length > 0 },
    { label: cost.frames, value: found.frames, isLoud: false },
    { label: cost.held, value: heldBatches, isLoud: heldBatches > 0 },
    ...(found.framesToLimit === null ? [] : [{ label: cost.toLimit, value: found.framesToLimit, isLoud: false }]),
  ];
  return (
    <section>
      <SectionHeading aside={cost.aside}>{cost.heading}</SectionHeading>
      <dl className={styles.cost}>
        {tiles.map(({ label, value, isLoud }) => (
          <div key={label}>
            <dt>{label}</dt>
            <dd className={isLoud ? "noText" : undefined}>{value}</dd>
          </div>
        ))}
      </dl>
      {batches.length === 0 ? (
        <p className={styles.quiet}>{cost.none}</p>
      ) : (
        <p className={styles.quiet}>
          {cost.batches}:{" "}
          <span className={styles.links}>
            {batches.map(({ batch, isHeld }) => (
              <Link key={batch} href={`/gate/batches/${encodeURIComponent(batch)}`}>
                {keepWhole(isHeld ? cost.held1(batch) : batch)}
              </Link>
            ))}
          </span>
        </p>
      )}
    </section>
  );
}

function Pictures({
  page,
  pictures,
  mayExport,
}: Readonly<{ page: Page; pictures: readonly CasePicture[]; mayExport: boolean }>) {
  const { found, number } = page;
  const titleOf = (feature: CasePicture["feature"]) =>
    feature === "offset" ? words.picture.offset(formatOclock((found.towards ?? 0) * 30)) : streamTitle(feature);
  return (
    <div>
      {pictures.slice(0, MOST_PICTURES).map(({ feature, spec }) => (
        <ChartCanvas
          key={feature}
          spec={spec}
          title={titleOf(feature)}
          alternative={words.picture.alternative(titleOf(feature), found.since.serial)}
          size="medium"
          fileName={`case-${number}-${feature}`}
          mayExport={mayExport}
        />
      ))}
    </div>
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
  const owners = mayManage ? await listCaseOwners(viewer) : [];
  const { found, entries, number, line, state, sinceAt, openedAt } = page;
  const frames = await readCaseFrames(
    viewer,
    id,
    page.streams.map(({ feature }) => streamOf(feature).feature),
  );
  const pictures = frames === null ? [] : casePictures(found, frames, zone);
  const now = Date.now();
  const age = formatDuration((now - Date.parse(sinceAt)) / 1000);
  const { foot } = words;
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={words.open.headline(line, caseSentence(found))}
            lead={leadWords(page, zone)}
            status={
              <>
                {state === "open" ? (
                  <StateMark state="signal" word={words.head.age(number, age)} />
                ) : (
                  <span>{words.head.closed(number)}</span>
                )}
                <LiveRefresh zone={zone} />
                <Link href="/drift">{words.backToDrift}</Link>
              </>
            }
          />
        }
        titleBlock={
          <TitleBlock
            projection={found.towards !== null}
            cells={[
              { label: foot.case, value: foot.opened(number, formatMoment(openedAt, { zone })) },
              { label: foot.where, value: `${page.lineName}, ${page.operationName}, ${page.drawing}` },
              {
                label: foot.streams,
                value: (
                  <span className={styles.links}>
                    {page.streams.map((stream) => (
                      <Link key={stream.id} href={`/drift/streams/${stream.id}`}>
                        {streamName(stream.feature)}
                      </Link>
                    ))}
                  </span>
                ),
              },
              { label: foot.owner, value: page.owner ?? foot.nobody },
              { label: foot.cause, value: page.cause === null ? foot.noCause : causeName(page.cause as CauseCode) },
              { label: foot.asOf, value: formatMoment(now, { zone }) },
            ]}
          />
        }
      >
        <div className={styles.columns}>
          <div className={styles.main}>
            {pictures.length === 0 || frames === null ? null : (
              <Sheet label={words.picture.heading}>
                <div className={found.towards === null ? undefined : styles.joint}>
                  <Target page={page} frames={frames} />
                  <Pictures page={page} pictures={pictures} mayExport={mayDo(viewer, "records.export")} />
                </div>
              </Sheet>
            )}
            <CauseTable causes={found.causes} />
            <section>
              <SectionHeading>{words.events.heading}</SectionHeading>
              {found.events.length === 0 ? (
                <p className={styles.quiet}>{words.events.none}</p>
              ) : (
                <ul className={styles.quiet}>
                  {found.events.map((event) => (
                    <li key={event.id}>{keepWhole(`${formatMoment(event.at, { zone })}: ${event.text}`)}</li>
                  ))}
                </ul>
              )}
            </section>
          </div>
          <div className={styles.side}>
            <CaseToDo page={page} />
            <CaseStepList page={page} zone={zone} mayNote={mayDo(viewer, "drift.note-step")} />
            <Cost page={page} />
            {mayManage ? <CaseDecision page={page} owners={owners} /> : null}
          </div>
        </div>
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
      </PageFrame>
    </WorkPage>
  );
}
