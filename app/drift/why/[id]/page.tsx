import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import type { FeatureName } from "@/lib/core/metrology/features";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatPercent } from "@/lib/format/number-text";
import { formatStreamDifference, formatStreamSpread, formatStreamValue, streamName } from "@/lib/format/stream-words";
import { readWhy, WHY_FACTORS, type WhyFactor, type WhyFrame, type WhyGroup } from "@/lib/quality/why/why-reading";
import { plantDayStart } from "@/lib/schemas/plant-day";
import { mayDo } from "@/lib/server/auth/permissions";
import { readWhyFrames } from "@/lib/server/drift/why-frames";
import { Button } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { Field } from "@/lib/ui/field";
import { FilterNav } from "@/lib/ui/filter-nav";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { GroupRows } from "../_components/group-rows";
import { VariationParts } from "../_components/variation-parts";
import { WHY_WORDS } from "../words";
import { whySearchSchema, whySpan, type WhySearch } from "../why-span";
import styles from "../why.module.css";

const words = WHY_WORDS.one;

export const metadata: Metadata = { title: words.pageTitle };

/** Shifts of which each is a row. */
const MOST_SHIFTS = 24;

/** The frames with the period that they are in: from a day on, or before it; without one the middle of them. */
function withPeriods(frames: readonly WhyFrame[], split: string | undefined, zone: string): WhyFrame[] {
  const middle = frames[Math.floor(frames.length / 2)]?.at ?? 0;
  const from = split ?? formatDay(middle, { zone });
  const start = plantDayStart(from, zone).getTime();
  return frames.map((frame) => ({
    ...frame,
    labels: {
      ...frame.labels,
      period: frame.at < start ? words.periods.before(from) : words.periods.after(from),
    },
  }));
}

function headline(
  groups: readonly WhyGroup[],
  factor: WhyFactor,
  feature: FeatureName,
  nameOf: (g: WhyGroup) => string,
) {
  const stream = streamName(feature);
  const [first] = groups;
  if (first === undefined) return words.nothing(factor);
  const outOf = ({ cells }: WhyGroup) => cells.filter(({ isOutlying }) => isOutlying).length;
  const loudest = groups.toSorted((a, b) => outOf(b) - outOf(a))[0] ?? first;
  if (outOf(loudest) > 0) return words.oneOutlying(nameOf(loudest), outOf(loudest), stream);
  const apart = groups.filter(({ differs }) => differs).toSorted((a, b) => (a.pValue ?? 1) - (b.pValue ?? 1))[0];
  if (apart !== undefined && apart.difference !== null)
    return words.oneDiffers(nameOf(apart), formatStreamDifference(apart.difference, feature), stream);
  return groups.length === 1 ? words.onlyOne(factor, nameOf(first), stream) : words.noDifference(factor, stream);
}

function says({ pValue, differs, cells, interval, difference }: WhyGroup): string {
  const out = cells.filter(({ isOutlying }) => isOutlying).length;
  const parts = [
    ...(out > 0 ? [words.standOut(out)] : []),
    ...(difference === null
      ? [words.alone]
      : interval === null
        ? [words.oneShift]
        : pValue === null
          ? []
          : [differs ? words.apart(formatPercent(pValue)) : words.notApart]),
  ];
  return parts.join("; ");
}

type Saying = Readonly<{ value: (value: number) => string; nameOf: (group: WhyGroup) => string }>;

function groupColumns(
  factor: WhyFactor,
  feature: FeatureName,
  { value, nameOf }: Saying,
): readonly TableColumn<WhyGroup>[] {
  const { columns } = words;
  return [
    { key: "name", label: columns.name(factor), cell: nameOf },
    ...(factor === "shift"
      ? []
      : [
          { key: "shifts", label: columns.shifts, kind: "count", cell: ({ cells }: WhyGroup) => cells.length } as const,
        ]),
    { key: "frames", label: columns.frames, kind: "count", cell: ({ count }) => count },
    { key: "mean", label: columns.mean, kind: "numeric", cell: ({ mean }) => value(mean) },
    {
      key: "interval",
      label: columns.interval,
      cell: ({ interval }) => (interval === null ? "–" : words.between(value(interval[0]), value(interval[1]))),
    },
    {
      key: "difference",
      label: columns.difference,
      kind: "numeric",
      cell: ({ difference }) => (difference === null ? "–" : formatStreamDifference(difference, feature)),
    },
    {
      key: "sd",
      label: columns.sd,
      kind: "numeric",
      cell: ({ sd }) => (sd === null ? "–" : formatStreamSpread(sd, feature)),
    },
    { key: "says", label: columns.says, cell: says },
  ];
}

type Outlying = Readonly<{ name: string; shiftAt: number; mean: number; count: number; first: string }>;

function outlyingColumns(factor: WhyFactor, zone: string, value: Saying["value"]): readonly TableColumn<Outlying>[] {
  const { outlying } = words;
  return [
    { key: "shift", label: outlying.shift, cell: ({ shiftAt }) => formatMoment(shiftAt, { zone }) },
    { key: "group", label: outlying.group(factor), cell: ({ name }) => name },
    { key: "mean", label: outlying.mean, kind: "numeric", cell: ({ mean }) => value(mean) },
    { key: "frames", label: outlying.frames, kind: "count", cell: ({ count }) => count },
    {
      key: "first",
      label: outlying.first,
      kind: "code",
      cell: ({ first }) => <Link href={`/frames/${encodeURIComponent(first)}`}>{first}</Link>,
    },
  ];
}

function SpanForm({ by, from, to, split }: WhySearch) {
  const { span } = words;
  return (
    <form className={styles.span} method="get">
      <input type="hidden" name="by" value={by} />
      <Field id="why-from" label={span.from}>
        {(control) => <input {...control} name="from" type="date" defaultValue={from} />}
      </Field>
      <Field id="why-to" label={span.to}>
        {(control) => <input {...control} name="to" type="date" defaultValue={to} />}
      </Field>
      {by === "period" ? (
        <Field id="why-split" label={span.split}>
          {(control) => <input {...control} name="split" type="date" defaultValue={split} />}
        </Field>
      ) : null}
      <Button type="submit">{span.apply}</Button>
    </form>
  );
}

export default async function WhyOnePage({ params, searchParams }: PageProps<"/drift/why/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/drift/why/${encodeURIComponent(id)}`, "drift.view");
  const search = whySearchSchema.parse(await searchParams);
  const { by: factor, from, to, split } = search;
  const { plantZone: zone } = viewer;
  const page = await readWhyFrames(viewer, id, factor, whySpan(search, zone)).catch((error: unknown) => {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  });
  const { head, beside, areDistances } = page;
  const { feature } = head;
  const frames = factor === "period" ? withPeriods(page.frames, split, zone) : page.frames;
  const { groups, unlabelled, components } = readWhy(frames, factor);
  const say = (value: number) =>
    areDistances ? formatStreamDifference(value, feature) : formatStreamValue(value, feature);
  const nameOf = ({ name }: WhyGroup) => (factor === "shift" ? formatMoment(Number(name), { zone }) : name);
  const inTime = factor === "shift" || factor === "period" || factor === "tool";
  const ordered = inTime ? groups : groups.toSorted((a, b) => a.mean - b.mean);
  const shown = factor === "shift" ? ordered.slice(-MOST_SHIFTS) : ordered;
  const firstOf = new Map(frames.toReversed().map((frame) => [frame.shiftAt, frame.serial]));
  const outlying = groups.flatMap((group) =>
    group.cells
      .filter(({ isOutlying }) => isOutlying)
      .map((cell) => ({ ...cell, name: nameOf(group), first: firstOf.get(cell.shiftAt) ?? "" })),
  );
  const addressOf = (stream: string, wanted: Partial<WhySearch>) => {
    const given = Object.entries({ ...search, ...wanted }).filter(
      (one): one is [string, string] => one[1] !== undefined,
    );
    return `/drift/why/${stream}?${new URLSearchParams(given)}`;
  };
  const saying = { value: say, nameOf };
  const [first, last] = [frames[0], frames.at(-1)];
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={headline(groups, factor, feature, nameOf)}
            lead={
              first === undefined || last === undefined
                ? words.nothingHint
                : words.lead(
                    head.line,
                    head.operationName,
                    frames.length,
                    formatDay(first.at, { zone }),
                    formatDay(last.at, { zone }),
                  )
            }
            status={
              <>
                <Link href={`/drift/streams/${id}`}>{words.stream}</Link>
                <Link href="/drift/why">{words.all}</Link>
              </>
            }
          />
        }
      >
        <FilterNav label={words.factors} flush>
          {WHY_FACTORS.map((one) => (
            <Link key={one} href={addressOf(id, { by: one })} aria-current={one === factor ? "page" : undefined}>
              {WHY_WORDS.factor[one]}
            </Link>
          ))}
        </FilterNav>
        <FilterNav label={words.stream} flush>
          {beside.map((one) => (
            <Link key={one.id} href={addressOf(one.id, {})} aria-current={one.id === id ? "page" : undefined}>
              {streamName(one.feature)}
            </Link>
          ))}
        </FilterNav>
        <div className={styles.sections}>
          {groups.length === 0 ? (
            <EmptyState title={words.nothing(factor)}>{words.nothingHint}</EmptyState>
          ) : (
            <>
              <section>
                <SectionHeading aside={words.sideAside(factor)}>{words.sideBySide(factor)}</SectionHeading>
                <GroupRows groups={shown} say={say} nameOf={nameOf} />
                <DataTable
                  caption={words.table(factor)}
                  captionHidden
                  rowHead="name"
                  rows={shown}
                  rowKey={({ name }) => name}
                  columns={groupColumns(factor, feature, saying)}
                />
                {areDistances ? <p className={styles.method}>{words.distances}</p> : null}
                {unlabelled > 0 ? <p className={styles.method}>{words.unlabelled(unlabelled, factor)}</p> : null}
              </section>
              {factor === "inspector" ? (
                <p className={styles.person}>
                  {WHY_WORDS.person} {words.settle.inspector} <Link href="/gauges/studies">{words.settle.study}</Link>
                </p>
              ) : null}
              {outlying.length > 0 ? (
                <section>
                  <SectionHeading aside={words.outlying.aside}>{words.outlying.heading}</SectionHeading>
                  <DataTable
                    caption={words.outlying.table}
                    captionHidden
                    rowHead="shift"
                    rows={outlying}
                    rowKey={({ name, shiftAt }) => `${name} ${shiftAt}`}
                    columns={outlyingColumns(factor, zone, say)}
                  />
                </section>
              ) : null}
              {components === null ? null : (
                <VariationParts components={components} factor={factor} feature={feature} />
              )}
            </>
          )}
          <section>
            <SectionHeading aside={from === undefined ? words.span.newest : undefined}>
              {words.span.heading}
            </SectionHeading>
            <SpanForm {...search} />
            {mayDo(viewer, "records.export") && frames.length > 0 ? (
              <p className={styles.method}>
                <a href={addressOf(id, {}).replace(`/why/${id}`, `/why/${id}/rows`)} download>
                  {keepWhole(words.csv)}
                </a>
              </p>
            ) : null}
          </section>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
