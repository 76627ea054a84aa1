import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import type { FeatureName } from "@/lib/core/metrology/features";
import { refusalWords } from "@/lib/format/baseline-words";
import { formatMoment } from "@/lib/format/date-text";
import { formatCount, formatFixed } from "@/lib/format/number-text";
import { formatStreamDifference, formatStreamSpread, formatStreamValue, streamName } from "@/lib/format/stream-words";
import type { AlarmRegion } from "@/lib/quality/alarm/alarm-region";
import { mayDo } from "@/lib/server/auth/permissions";
import {
  type BaselinePage,
  type BaselineVersion,
  readBaselineDifference,
  readBaselinePage,
  type ShownProposal,
} from "@/lib/server/cases/baseline-queries";
import { Button } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { Field } from "@/lib/ui/field";
import { KeyValues } from "@/lib/ui/key-values";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../../../_components/work-page";
import { ApproveForm } from "./_components/approve-form";
import { TestsForm } from "./_components/tests-form";
import { RollBackForm } from "./_components/roll-back-form";
import { type BaselineSearch, readBaselineSearch } from "./baseline-search";
import { BASELINE_WORDS as words } from "./words";
import styles from "./baseline.module.css";

export const metadata: Metadata = { title: words.pageTitle };

type Levels = Readonly<{ centre: readonly number[]; sd: number; region: AlarmRegion }>;

/** How numbers of a stream's baseline are said. */
function sayingOf({ stream, feature }: Pick<BaselinePage, "stream" | "feature">) {
  const shown: FeatureName = stream.key === "offset" ? "offset.12" : feature;
  const value = (one: number) => formatStreamValue(one, shown);
  const spread = (one: number) => formatStreamSpread(one, shown);
  const centre = ([first = 0, second]: readonly number[]) =>
    second === undefined ? value(first) : words.vector(value(first), value(second));
  const edges = ({ centre: [middle = 0], region: { lower, upper } }: Levels): string => {
    const [below, above] = [lower?.inControl ?? 0, upper?.inControl ?? 0];
    const { edges: says } = words;
    if (stream.kind === "vector") return above > 0 ? says.radius(spread(above)) : says.none;
    if (stream.kind === "form") return above > 0 ? says.beyond(spread(above)) : says.none;
    if (lower === null && upper === null) return says.none;
    if (lower === null) return says.above(value(middle + above));
    if (upper === null) return says.below(value(middle - below));
    return says.both(value(middle - below), value(middle + above));
  };
  const difference = (one: number) => formatStreamDifference(one, shown);
  return { value, spread, centre, edges, difference };
}
type Saying = ReturnType<typeof sayingOf>;

function InForce({ page, say }: Readonly<{ page: BaselinePage; say: Saying }>) {
  const { now } = words;
  const { current } = page;
  if (current === null) return <EmptyState title={now.none}>{now.waiting(page.starting)}</EmptyState>;
  return (
    <KeyValues
      pairs={[
        { label: now.version, value: current.version === null ? now.byItself : now.signed(current.version) },
        {
          label: now.frames,
          value: now.stretch(current.frames, current.first ?? "–", current.last ?? "–"),
        },
        { label: now.known, value: current.isHeld ? now.held(current.known) : String(current.known) },
        { label: now.centre, value: say.centre(current.centre) },
        { label: now.sd, value: say.spread(current.sd) },
        { label: now.edges, value: say.edges(current) },
      ]}
    />
  );
}

function WishForm({ page, search }: Readonly<{ page: BaselinePage; search: BaselineSearch }>) {
  const { wish } = words;
  return (
    <form className={styles.form} method="get">
      <div className={styles.wish}>
        <Field id="newest" label={wish.newest} hint={wish.newestHint}>
          {(control) => <input {...control} name="newest" inputMode="numeric" defaultValue={search.newest || "100"} />}
        </Field>
        <Field id="from" label={wish.from} hint={wish.stretchHint}>
          {(control) => <input {...control} name="from" autoComplete="off" defaultValue={search.from} />}
        </Field>
        <Field id="to" label={wish.to}>
          {(control) => <input {...control} name="to" autoComplete="off" defaultValue={search.to} />}
        </Field>
        {page.open.length === 0 ? null : (
          <Field id="case" label={wish.because} hint={words.openHint}>
            {(control) => (
              <select {...control} name="case" defaultValue={search.case}>
                <option value="">{wish.noCase}</option>
                {page.open.map(({ id, number }) => (
                  <option key={id} value={id}>
                    {wish.caseNamed(number)}
                  </option>
                ))}
              </select>
            )}
          </Field>
        )}
      </div>
      <Button type="submit">{wish.preview}</Button>
    </form>
  );
}

type Fact = Readonly<{ what: string; inForce: string; proposed: string }>;

function factsOf({ current, shifts }: BaselinePage, proposal: ShownProposal, say: Saying): readonly Fact[] {
  const { preview: says } = words;
  const { preview } = proposal;
  const of = (tell: (one: NonNullable<typeof current>) => string) => (current === null ? "–" : tell(current));
  return [
    { what: says.frames, inForce: of(({ frames }) => String(frames)), proposed: String(proposal.frames) },
    {
      what: says.stretch,
      inForce: of(({ first, last }) => `${first ?? "–"}, ${last ?? "–"}`),
      proposed: `${proposal.first}, ${proposal.last}`,
    },
    {
      what: says.leftOut,
      inForce: "–",
      proposed: says.leftOutWords(proposal.failing.length, proposal.assigned.length),
    },
    { what: words.now.centre, inForce: of(({ centre }) => say.centre(centre)), proposed: say.centre(proposal.centre) },
    { what: words.now.sd, inForce: of(({ sd }) => say.spread(sd)), proposed: say.spread(proposal.sd) },
    { what: words.now.edges, inForce: of(say.edges), proposed: say.edges(proposal) },
    {
      what: says.shifts,
      inForce: "–",
      proposed: shifts === null ? says.notLearnt : says.learnt(say.spread(shifts.sd), shifts.shifts),
    },
    {
      what: says.signals(preview.frames),
      inForce: preview.current === null ? "–" : says.signalled(preview.current),
      proposed: says.signalled(preview.proposed),
    },
  ];
}

const FACTS: readonly TableColumn<Fact>[] = [
  { key: "what", label: words.preview.fact, cell: ({ what }) => what },
  { key: "inForce", label: words.preview.inForce, cell: ({ inForce }) => inForce },
  { key: "proposed", label: words.preview.proposed, cell: ({ proposed }) => proposed },
];

/** Below so many frames a baseline is provisional. */
const PROVISIONAL = 50;

function Outliers({
  proposal,
  search,
  say,
}: Readonly<{ proposal: ShownProposal; search: BaselineSearch; say: Saying }>) {
  const { preview: says } = words;
  if (proposal.outliers.length === 0) return <p className={styles.note}>{says.noOutliers}</p>;
  const given = search.wish?.ok === true ? search.wish.wish.causes : [];
  return (
    <form className={styles.form} method="get">
      <p className={styles.note}>{says.outliersHint}</p>
      {(["newest", "from", "to", "case"] as const).map((name) => (
        <input key={name} type="hidden" name={name} value={search[name]} />
      ))}
      <div className={styles.fields}>
        {proposal.outliers.map(({ id, serial, value }) => (
          <Field key={id} id={`cause-${id}`} label={says.outlier(serial, say.value(value))}>
            {(control) => (
              <input
                {...control}
                name={`cause.${id}`}
                maxLength={200}
                autoComplete="off"
                defaultValue={given.find(({ frame }) => frame === id)?.cause ?? ""}
              />
            )}
          </Field>
        ))}
      </div>
      <Button type="submit">{says.again}</Button>
    </form>
  );
}

function Proposed({
  page,
  search,
  say,
  mayApprove,
}: Readonly<{ page: BaselinePage; search: BaselineSearch; say: Saying; mayApprove: boolean }>) {
  const { wished } = page;
  const typed = search.wish;
  if (typed === null) return null;
  if (!typed.ok) return <EmptyState title={words.refused}>{typed.words}</EmptyState>;
  if (wished === null) return null;
  if (!wished.ok)
    return (
      <EmptyState title={words.refused}>{"refusal" in wished ? refusalWords(wished.refusal) : wished.words}</EmptyState>
    );
  const { proposal } = wished;
  return (
    <section className={styles.form}>
      <SectionHeading>{words.preview.heading}</SectionHeading>
      <DataTable
        caption={words.preview.caption}
        captionHidden
        columns={FACTS}
        rows={factsOf(page, proposal, say)}
        rowKey={({ what }) => what}
        rowHead="what"
      />
      {proposal.frames < PROVISIONAL ? <p className={styles.note}>{words.preview.provisional}</p> : null}
      <SectionHeading>{words.preview.outliers}</SectionHeading>
      <Outliers proposal={proposal} search={search} say={say} />
      {mayApprove ? (
        <>
          <SectionHeading>{words.approve.heading}</SectionHeading>
          <ApproveForm
            streamId={page.id}
            versionSeen={page.newestVersion}
            wish={typed.wish}
            previewed={proposal.digest}
          />
        </>
      ) : null}
    </section>
  );
}

function versionColumns(page: BaselinePage, say: Saying, zone: string): readonly TableColumn<BaselineVersion>[] {
  const { versions: says } = words;
  const howOf = ({ kind, ofVersion, caseNumber, version }: BaselineVersion) =>
    [
      says.kinds[kind],
      ofVersion === null ? "" : says.ofVersion(ofVersion),
      caseNumber === null ? "" : says.because(caseNumber),
      version === page.current?.version ? says.inForce : "",
    ].join("");
  return [
    { key: "version", label: says.version, kind: "count", cell: ({ version }) => version },
    { key: "how", label: says.kind, cell: howOf },
    {
      key: "frames",
      label: says.frames,
      cell: ({ frames, withdrawn }) => `${frames}${withdrawn > 0 ? says.withdrawn(withdrawn) : ""}`,
    },
    { key: "stretch", label: says.stretch, cell: ({ first, last }) => `${first ?? "–"}, ${last ?? "–"}` },
    { key: "centre", label: says.centre, kind: "numeric", cell: ({ centre }) => say.centre(centre) },
    { key: "sd", label: says.sd, kind: "numeric", cell: ({ sd }) => say.spread(sd) },
    { key: "edges", label: says.edges, cell: say.edges },
    { key: "reason", label: says.reason, cell: ({ reason }) => reason },
    { key: "by", label: says.by, cell: ({ by }) => by ?? says.itself },
    { key: "when", label: says.when, cell: ({ createdAt }) => formatMoment(createdAt, { zone }) },
  ];
}

type Difference = Awaited<ReturnType<typeof readBaselineDifference>>;

function Compared({
  page,
  search,
  difference,
  say,
}: Readonly<{ page: BaselinePage; search: BaselineSearch; difference: Difference; say: Saying }>) {
  const { compare } = words;
  const { compared } = search;
  const [newest, before] = page.versions;
  if (newest === undefined || before === undefined) return null;
  const choice = (name: "earlier" | "later", label: string, version: number) => (
    <Field id={name} label={label}>
      {(control) => (
        <select {...control} name={name} defaultValue={version}>
          {page.versions.map((one) => (
            <option key={one.version}>{one.version}</option>
          ))}
        </select>
      )}
    </Field>
  );
  const edge = ({ from, to }: { readonly from: number | null; readonly to: number | null }) => {
    const tell = (one: number | null) => (one === null ? compare.notWatched : say.spread(one));
    return compare.fromTo(tell(from), tell(to));
  };
  return (
    <section className={styles.form}>
      <SectionHeading>{compare.heading}</SectionHeading>
      <form className={styles.fields} method="get">
        {choice("earlier", compare.earlier, compared?.earlier ?? before.version)}
        {choice("later", compare.later, compared?.later ?? newest.version)}
        <Button type="submit">{compare.button}</Button>
      </form>
      {compared === null ? null : difference === null ? (
        <p className={styles.note}>{compare.notThere}</p>
      ) : (
        <KeyValues
          pairs={[
            { label: compare.sentence(compared.earlier, compared.later), value: "" },
            { label: compare.frames, value: compare.ofFrames(difference.entered.length, difference.left.length) },
            { label: compare.centre, value: difference.moved.map(say.difference).join(", ") },
            { label: compare.sd, value: compare.times(formatFixed(difference.spread, 2)) },
            ...(["lower", "upper"] as const).flatMap((side) => {
              const { from, to } = difference[side];
              return from === null && to === null ? [] : [{ label: compare[side], value: edge(difference[side]) }];
            }),
          ]}
        />
      )}
    </section>
  );
}

type Facts = BaselinePage["tests"]["facts"][number];
type TestsVersion = BaselinePage["tests"]["versions"][number];

function testColumns({ tests: { chosen, marks } }: BaselinePage): readonly TableColumn<Facts>[] {
  const { tests: says } = words;
  const marked = ({ test }: Facts) => {
    if (!chosen.includes(test)) return says.notChosen;
    return marks === null ? says.noBaseline : says.marked(marks.find((one) => one.test === test)?.serials ?? []);
  };
  return [
    { key: "test", label: says.test, cell: ({ test }) => says.names[test] },
    {
      key: "run",
      label: says.runLength,
      kind: "numeric",
      cell: ({ runLength }) => says.inFrames(formatCount(Math.round(runLength))),
    },
    { key: "share", label: says.share, cell: ({ share }) => says.shareWords(formatFixed(share, 1)) },
    { key: "delay", label: says.delay, kind: "numeric", cell: ({ delay }) => says.inFrames(formatFixed(delay, 1)) },
    { key: "marks", label: says.marks, cell: marked },
  ];
}

function testVersionColumns(zone: string): readonly TableColumn<TestsVersion>[] {
  const { tests: says, versions } = words;
  return [
    { key: "version", label: says.version, kind: "count", cell: ({ version }) => version },
    {
      key: "tests",
      label: says.chosen,
      cell: ({ tests }) => (tests.length === 0 ? says.schemeOnly : tests.map((test) => says.names[test]).join(", ")),
    },
    { key: "reason", label: versions.reason, cell: ({ reason }) => reason },
    { key: "by", label: versions.by, cell: ({ by }) => by },
    { key: "when", label: versions.when, cell: ({ createdAt }) => formatMoment(createdAt, { zone }) },
  ];
}

function Tests({ page, zone, mayChoose }: Readonly<{ page: BaselinePage; zone: string; mayChoose: boolean }>) {
  const { tests: says } = words;
  const { tests } = page;
  return (
    <section className={styles.form}>
      <SectionHeading>{says.heading}</SectionHeading>
      {tests.facts.length === 0 ? (
        <p className={styles.note}>{says.vector}</p>
      ) : (
        <>
          <p className={styles.note}>{says.hint}</p>
          <DataTable
            caption={says.caption}
            captionHidden
            columns={testColumns(page)}
            rows={tests.facts}
            rowKey={({ test }) => test}
            rowHead="test"
          />
          {mayChoose ? (
            <TestsForm key={tests.version} streamId={page.id} versionSeen={tests.version} chosen={tests.chosen} />
          ) : null}
          {tests.versions.length === 0 ? null : (
            <DataTable
              caption={says.versionsCaption}
              columns={testVersionColumns(zone)}
              rows={tests.versions}
              rowKey={({ version }) => String(version)}
              rowHead="version"
            />
          )}
        </>
      )}
    </section>
  );
}

export default async function BaselinePageView({ params, searchParams }: PageProps<"/drift/streams/[id]/baseline">) {
  const { id } = await params;
  const viewer = await requireViewer(`/drift/streams/${encodeURIComponent(id)}/baseline`, "drift.view");
  const search = readBaselineSearch(await searchParams);
  const page = await readBaselinePage(viewer, id, search.wish?.ok === true ? search.wish.wish : null).catch(
    (error: unknown) => {
      if (error instanceof AppError && error.code === "not-found") notFound();
      if (error instanceof AppError && error.code === "refused") return error.userMessage;
      throw error;
    },
  );
  const back = <Link href={`/drift/streams/${encodeURIComponent(id)}`}>{words.backToStream}</Link>;
  if (typeof page === "string")
    return (
      <WorkPage viewer={viewer} current="drift">
        <PageFrame head={<PageHead title={words.pageTitle} status={back} />}>
          <EmptyState title={words.now.none}>{page}</EmptyState>
        </PageFrame>
      </WorkPage>
    );
  const say = sayingOf(page);
  const mayApprove = mayDo(viewer, "drift.approve-baseline");
  const difference = search.compared === null ? null : await readBaselineDifference(viewer, id, search.compared);
  const earlier = page.versions.map(({ version }) => version).filter((version) => version !== page.current?.version);
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={<PageHead title={words.title(streamName(page.feature), page.line)} lead={words.lead} status={back} />}
      >
        <div className={styles.sections}>
          {page.stream.key === "offset" ? <p className={styles.note}>{words.isOffset}</p> : null}
          {page.open.length === 0 ? null : (
            <p className={styles.note}>
              {page.open.map(({ id: caseId, number }) => (
                <Link key={caseId} href={`/drift/cases/${caseId}`}>
                  {words.open([number])}
                </Link>
              ))}{" "}
              {words.openHint}
            </p>
          )}
          <div className={styles.columns}>
            <section>
              <SectionHeading>{words.now.heading}</SectionHeading>
              <InForce page={page} say={say} />
            </section>
            <section>
              <SectionHeading>{words.wish.heading}</SectionHeading>
              <WishForm page={page} search={search} />
            </section>
          </div>
          <Proposed page={page} search={search} say={say} mayApprove={mayApprove} />
          <section>
            <SectionHeading>{words.versions.heading}</SectionHeading>
            <DataTable
              caption={words.versions.caption}
              captionHidden
              columns={versionColumns(page, say, viewer.plantZone)}
              rows={page.versions}
              rowKey={({ version }) => String(version)}
              rowHead="version"
              empty={words.versions.none}
            />
          </section>
          <Compared page={page} search={search} difference={difference} say={say} />
          {mayApprove && earlier.length > 0 ? (
            <section>
              <SectionHeading>{words.rollBack.heading}</SectionHeading>
              <RollBackForm streamId={page.id} versionSeen={page.newestVersion} versions={earlier} open={page.open} />
            </section>
          ) : null}
          <Tests page={page} zone={viewer.plantZone} mayChoose={mayApprove} />
        </div>
      </PageFrame>
    </WorkPage>
  );
}
