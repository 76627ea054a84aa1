import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { z } from "zod";
import { formatMoment } from "@/lib/format/date-text";
import { lotPlanText, schemeText, standingText } from "@/lib/format/lot-words";
import { lotPlan, type LotScheme } from "@/lib/quality/lot-plan";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import {
  type JudgedLot,
  listSampling,
  readSamplingHistory,
  type SampledPair,
  type SchemeVersion,
} from "@/lib/server/batches/sampling-queries";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { SAMPLING_WORDS } from "../sampling-words";
import { SamplingForm } from "./_components/sampling-form";
import styles from "./sampling.module.css";

const words = SAMPLING_WORDS.page;
const texts = SAMPLING_WORDS.one;

export const metadata: Metadata = { title: words.title };

const searchSchema = z.object({
  supplier: z.string().max(64).optional().catch(undefined),
  model: z.string().max(64).optional().catch(undefined),
});

const hrefOf = ({ supplier, model }: SampledPair) => `/gate/sampling?${new URLSearchParams({ supplier, model })}`;

const reducedWanted = (scheme: LotScheme | null) =>
  scheme !== null && "reducedWanted" in scheme && scheme.reducedWanted;

function planOf({ scheme, lot, standing }: SampledPair): string {
  return scheme === null || lot === null ? "" : lotPlanText(lotPlan(scheme, lot, standing));
}

const COLUMNS: readonly TableColumn<SampledPair>[] = [
  {
    key: "supplier",
    label: words.supplier,
    cell: (pair) => (
      <Link href={hrefOf(pair)} prefetch={false}>
        {pair.supplierName}
      </Link>
    ),
  },
  { key: "model", label: words.model, cell: ({ modelName }) => modelName },
  {
    key: "scheme",
    label: words.scheme,
    cell: ({ scheme }) => keepWhole(scheme === null ? words.byPlan : schemeText(scheme)),
  },
  { key: "lot", label: words.usualBatch, kind: "count", cell: ({ lot }) => words.frames(lot) },
  { key: "plan", label: words.plan, cell: (pair) => keepWhole(planOf(pair)) },
  { key: "standing", label: words.inspection, cell: ({ standing }) => standing?.severity ?? "" },
  { key: "version", label: words.version, kind: "count", cell: ({ version }) => version ?? "" },
];

function lotColumns(zone: string): readonly TableColumn<JudgedLot>[] {
  return [
    {
      key: "batch",
      label: texts.batch,
      kind: "code",
      cell: ({ batch }) => (
        <Link href={`/gate/batches/${encodeURIComponent(batch)}`} prefetch={false}>
          {batch}
        </Link>
      ),
    },
    {
      key: "result",
      label: texts.result,
      cell: ({ accepted }) => (
        <StateMark
          state={accepted ? "conforms" : "does not conform"}
          word={accepted ? texts.accepted : texts.refused}
        />
      ),
    },
    {
      key: "found",
      label: texts.found,
      cell: ({ found }) => <span className="mono">{keepWhole(found.join(" "))}</span>,
    },
    { key: "after", label: texts.after, cell: ({ state }) => state.severity },
    { key: "when", label: texts.when, cell: ({ at }) => keepWhole(formatMoment(at, { zone })) },
  ];
}

function versionColumns(zone: string): readonly TableColumn<SchemeVersion>[] {
  return [
    { key: "version", label: texts.version, kind: "count", cell: ({ version }) => version },
    { key: "scheme", label: words.scheme, cell: ({ scheme }) => keepWhole(schemeText(scheme)) },
    { key: "reason", label: texts.reason, cell: ({ reason }) => keepWhole(reason) },
    {
      key: "signed",
      label: texts.signed,
      cell: ({ person, at }) => keepWhole(`${person}, ${formatMoment(at, { zone })}`),
    },
  ];
}

async function OnePair({ viewer, pair }: Readonly<{ viewer: PersonViewer; pair: SampledPair }>) {
  const { versions, lots } = await readSamplingHistory(viewer, pair);
  const { plantZone: zone } = viewer;
  const { scheme, standing, version } = pair;
  return (
    <PageFrame
      head={
        <PageHead
          title={texts.headline(pair.supplierName, pair.modelName)}
          lead={scheme === null ? texts.none : texts.inForce(version ?? 1, schemeText(scheme))}
          status={<ButtonLink href="/gate/sampling">{words.backToList}</ButtonLink>}
        />
      }
    >
      {standing === null ? null : (
        <>
          <SectionHeading>{texts.standing}</SectionHeading>
          <p className={styles.standing}>{keepWhole(standingText(standing, reducedWanted(scheme)))}</p>
        </>
      )}
      <Sheet decision label={SAMPLING_WORDS.form.heading}>
        <SamplingForm
          key={version ?? 0}
          supplier={pair.supplier}
          model={pair.model}
          version={version ?? 0}
          scheme={scheme}
          standing={standing}
          lot={pair.lot ?? 50}
          maySet={mayDo(viewer, "gate.set-sampling")}
        />
      </Sheet>
      {standing === null ? null : (
        <div className={styles.after}>
          <SectionHeading>{texts.judged}</SectionHeading>
          <DataTable
            caption={texts.judged}
            captionHidden
            rowHead="batch"
            columns={lotColumns(zone)}
            rows={lots}
            rowKey={({ batch }) => batch}
            empty={<p className="soft">{texts.judgedNone}</p>}
          />
        </div>
      )}
      {versions.length === 0 ? null : (
        <div className={styles.after}>
          <SectionHeading>{texts.versions}</SectionHeading>
          <DataTable
            caption={texts.versions}
            captionHidden
            rowHead="version"
            columns={versionColumns(zone)}
            rows={versions}
            rowKey={({ id }) => id}
          />
        </div>
      )}
    </PageFrame>
  );
}

export default async function SamplingPage({ searchParams }: PageProps<"/gate/sampling">) {
  const viewer = await requireViewer("/gate/sampling", "gate.view");
  const { supplier, model } = searchSchema.parse(await searchParams);
  const pairs = await listSampling(viewer);
  if (supplier !== undefined || model !== undefined) {
    const pair = pairs.find((one) => one.supplier === supplier && one.model === model);
    if (pair === undefined) notFound();
    return (
      <WorkPage viewer={viewer} current="gate">
        <OnePair viewer={viewer} pair={pair} />
      </WorkPage>
    );
  }
  const sampled = pairs.filter(({ scheme }) => scheme !== null).length;
  return (
    <WorkPage viewer={viewer} current="gate">
      <PageFrame
        head={
          <PageHead
            title={words.headline(sampled, pairs.length)}
            lead={words.lead}
            status={<ButtonLink href="/gate">{words.backToGate}</ButtonLink>}
          />
        }
      >
        <DataTable
          caption={words.caption}
          captionHidden
          rowHead="supplier"
          columns={COLUMNS}
          rows={pairs}
          rowKey={(pair) => `${pair.supplier} ${pair.model}`}
          empty={<EmptyState title={words.empty}>{words.enterBatch}</EmptyState>}
        />
      </PageFrame>
    </WorkPage>
  );
}
