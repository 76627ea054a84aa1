import type { Metadata } from "next";
import Link from "next/link";
import { AppError } from "@/lib/errors";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { FRAME_STATE_WORDS } from "@/lib/format/frame-state-words";
import { formatCount } from "@/lib/format/number-text";
import { MOST_TRACED, TRACE_SUBJECTS, traceBackSchema, type TraceBackQuery } from "@/lib/schemas/trace-back";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { listTraceChoices, traceBack, type TraceBack, type TraceChoice } from "@/lib/server/gauges/trace-back";
import { Button } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { Field } from "@/lib/ui/field";
import { KeyValues } from "@/lib/ui/key-values";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import styles from "../gauges.module.css";
import { TRACE_WORDS as words } from "../words";

export const metadata: Metadata = { title: words.title };

type Asked = Readonly<Record<string, string | undefined>>;

/** The choice as one word of the form: what it is and its key. */
const valueOf = ({ of, key }: Pick<TraceChoice, "of" | "key">) => `${of}:${key}`;

function Question({ choices, asked }: Readonly<{ choices: readonly TraceChoice[]; asked: Asked }>) {
  const chosen = asked["of"] !== undefined && asked["key"] !== undefined ? `${asked["of"]}:${asked["key"]}` : "";
  return (
    <form className={styles.question} action="/gauges/trace">
      <Field id="what" label={words.choose}>
        {(control) => (
          <select {...control} name="what" required defaultValue={chosen}>
            <option value="">{words.chooseOne}</option>
            {TRACE_SUBJECTS.map((of) => (
              <optgroup key={of} label={words.subjects[of]}>
                {choices
                  .filter((choice) => choice.of === of)
                  .map((choice) => (
                    <option key={valueOf(choice)} value={valueOf(choice)}>
                      {choice.name}
                    </option>
                  ))}
              </optgroup>
            ))}
          </select>
        )}
      </Field>
      <Field id="from" label={words.from}>
        {(control) => <input {...control} type="date" name="from" defaultValue={asked["from"] ?? ""} />}
      </Field>
      <Field id="to" label={words.to}>
        {(control) => <input {...control} type="date" name="to" defaultValue={asked["to"] ?? ""} />}
      </Field>
      <Button type="submit" kind="go">
        {words.show}
      </Button>
    </form>
  );
}

function Frames({ trace, zone, csvHref }: Readonly<{ trace: TraceBack; zone: string; csvHref: string | undefined }>) {
  return (
    <section>
      <SectionHeading aside={words.shippedFirst}>{words.list}</SectionHeading>
      <DataTable
        caption={words.list}
        captionHidden
        rowHead="serial"
        columns={[
          {
            key: "serial",
            label: words.serial,
            kind: "code",
            cell: ({ serial }) => <Link href={`/frames/${encodeURIComponent(serial)}`}>{serial}</Link>,
          },
          {
            key: "shipped",
            label: words.shippedAt,
            cell: ({ shippedAt }) => (shippedAt === null ? words.notShipped : formatDay(shippedAt, { zone })),
          },
          { key: "state", label: words.state, cell: ({ state }) => FRAME_STATE_WORDS[state] },
          { key: "verdict", label: words.verdict, cell: ({ verdict }) => verdict ?? words.notJudged },
          { key: "escape", label: words.escape, cell: ({ openEscape }) => (openEscape ? words.open : words.none) },
          {
            key: "batch",
            label: words.batch,
            kind: "code",
            cell: ({ batch }) => <Link href={`/gate/batches/${encodeURIComponent(batch)}`}>{batch}</Link>,
          },
          { key: "measured", label: words.measured, cell: ({ lastAt }) => formatMoment(lastAt, { zone }) },
        ]}
        rows={trace.list}
        rowKey={({ serial }) => serial}
        count={words.listed(trace.list.length, trace.frames)}
        {...(csvHref === undefined ? {} : { csvHref })}
        empty={<EmptyState title={words.nothing}>{words.tryLonger}</EmptyState>}
      />
    </section>
  );
}

function Figures({ trace }: Readonly<{ trace: TraceBack }>) {
  return (
    <section>
      <SectionHeading>{words.counts}</SectionHeading>
      <KeyValues
        pairs={[
          { label: words.frames, value: formatCount(trace.frames) },
          { label: words.shipped, value: formatCount(trace.shipped) },
          { label: words.inHouse, value: formatCount(trace.frames - trace.shipped) },
          { label: words.openEscapes, value: formatCount(trace.openEscapes) },
          { label: words.signedDecisions, value: formatCount(trace.decisions.length) },
        ]}
      />
      <SectionHeading>{words.batches}</SectionHeading>
      <DataTable
        caption={words.batches}
        captionHidden
        rowHead="batch"
        columns={[
          {
            key: "batch",
            label: words.batch,
            kind: "code",
            cell: ({ batch }) => <Link href={`/gate/batches/${encodeURIComponent(batch)}`}>{batch}</Link>,
          },
          { key: "shipped", label: words.shipped, kind: "count", cell: ({ shipped }) => formatCount(shipped) },
          { key: "frames", label: words.frames, kind: "count", cell: ({ frames }) => formatCount(frames) },
          { key: "held", label: words.held, kind: "count", cell: ({ held }) => formatCount(held) },
        ]}
        rows={trace.batches}
        rowKey={({ batch }) => batch}
        empty={<EmptyState title={words.nothing}>{words.tryLonger}</EmptyState>}
      />
    </section>
  );
}

function Decisions({ trace, zone }: Readonly<{ trace: TraceBack; zone: string }>) {
  if (trace.decisions.length === 0) return null;
  return (
    <section>
      <SectionHeading>{words.decisions}</SectionHeading>
      <DataTable
        caption={words.decisions}
        captionHidden
        rowHead="when"
        columns={[
          { key: "when", label: words.when, cell: ({ at }) => formatMoment(at, { zone }) },
          { key: "decision", label: words.decision, cell: ({ kind }) => kind.replaceAll("_", " ") },
          { key: "batch", label: words.batch, kind: "code", cell: ({ batch }) => batch },
          { key: "grounds", label: words.grounds, cell: ({ grounds }) => grounds },
        ]}
        rows={trace.decisions}
        rowKey={({ at }, place) => `${at} ${place}`}
      />
    </section>
  );
}

/** What the address asks for: the form sends kind and key as one. */
function askedOf(search: Readonly<Record<string, string | string[] | undefined>>): Asked {
  const text = (name: string) => (typeof search[name] === "string" && search[name] !== "" ? search[name] : undefined);
  const [of, ...key] = (text("what") ?? "").split(":");
  return {
    of: text("of") ?? (of === "" ? undefined : of),
    key: text("key") ?? (key.length === 0 ? undefined : key.join(":")),
    from: text("from"),
    to: text("to"),
  };
}

const queryOf = (asked: Asked): TraceBackQuery | null =>
  traceBackSchema.safeParse(Object.fromEntries(Object.entries(asked).filter(([, value]) => value !== undefined)))
    .data ?? null;

/** The answer, or in words why there is none. */
async function answerOf(viewer: PersonViewer, query: TraceBackQuery): Promise<TraceBack | string> {
  try {
    return await traceBack(viewer, query, MOST_TRACED);
  } catch (error) {
    if (error instanceof AppError && (error.code === "not-found" || error.code === "invalid-input"))
      return error.userMessage;
    throw error;
  }
}

export default async function TracePage({ searchParams }: PageProps<"/gauges/trace">) {
  const viewer = await requireViewer("/gauges/trace", "gauges.view");
  const { plantZone: zone } = viewer;
  const asked = askedOf(await searchParams);
  const query = queryOf(asked);
  const [choices, answer] = await Promise.all([
    listTraceChoices(viewer),
    query === null ? null : answerOf(viewer, query),
  ]);
  const trace = typeof answer === "string" ? null : answer;
  const moment = (time: string | null) => (time === null ? null : formatMoment(time, { zone }));
  const shown = (time: string | undefined) => (time === undefined ? undefined : formatDay(time, { zone }));
  const csvHref =
    query !== null && mayDo(viewer, "records.export")
      ? `/gauges/trace/csv?${new URLSearchParams(Object.entries(query))}`
      : undefined;
  return (
    <WorkPage viewer={viewer} current="gauges">
      <PageFrame
        head={
          <PageHead
            title={trace === null ? words.question : words.found(trace.name, trace.frames, trace.shipped)}
            lead={trace === null ? words.lead : words.stretch(moment(trace.from), moment(trace.to))}
            status={<Link href="/gauges">{words.all}</Link>}
          />
        }
      >
        <Question
          choices={choices}
          asked={query === null ? asked : { ...asked, from: shown(query.from), to: shown(query.to) }}
        />
        {typeof answer === "string" ? <ErrorNotice title={words.unknown}>{answer}</ErrorNotice> : null}
        {trace === null ? null : (
          <div className={styles.columns}>
            <div className={styles.main}>
              <Frames trace={trace} zone={zone} csvHref={csvHref} />
              <Decisions trace={trace} zone={zone} />
            </div>
            <div className={styles.side}>
              <Figures trace={trace} />
            </div>
          </div>
        )}
      </PageFrame>
    </WorkPage>
  );
}
