import type { Metadata } from "next";
import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { getSetupOverview } from "@/lib/server/plant/queries";
import { listNewestBatches } from "@/lib/server/batches/queries";
import { listPlans } from "@/lib/server/plans/queries";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { BATCH_ENTRY_WORDS } from "../words/batches";
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { createBatchAction } from "../actions";

const words = BATCH_ENTRY_WORDS.batches;

export const metadata: Metadata = { title: words.batches };

export default async function BatchesPage() {
  const viewer = await requireViewer("/setup/batches", "setup.view");
  const { plantZone: zone } = viewer;
  const [batches, overview, plans] = await Promise.all([
    listNewestBatches(viewer),
    getSetupOverview(viewer),
    listPlans(viewer),
  ]);
  const choices = (items: readonly { key: string; name: string; inUse: boolean }[]) =>
    items.filter(({ inUse }) => inUse).map(({ key, name }) => ({ value: key, label: `${key}, ${name}` }));
  return (
    <SetupPage viewer={viewer} current="batches" title={words.openBatch} lead={words.lead}>
      <div className={`${parts.parts} ${parts.formAndList}`}>
        <section>
          <SectionHeading>{words.newBatch}</SectionHeading>
          {mayDo(viewer, "setup.draft") ? (
            <EntryForm
              inline
              kind="go"
              fields={[
                { name: "key", label: words.batch, kind: "code" },
                { name: "supplier", label: words.supplier, kind: "choice", options: choices(overview.suppliers) },
                {
                  name: "model",
                  label: words.frameModel,
                  kind: "choice",
                  options: overview.models
                    .filter(({ inUse }) => inUse)
                    .map(({ key, name, drawing }) => ({
                      value: key,
                      label: `${key}, ${name} (${drawing})`,
                    })),
                },
                { name: "line", label: words.line, kind: "choice", options: choices(overview.lines) },
                {
                  name: "plan",
                  label: words.measuringPlan,
                  kind: "choice",
                  options: plans
                    .filter((plan) => plan.state === "released")
                    .map(({ key, title, drawingKey }) => ({ value: key, label: `${key}, ${title} (${drawingKey})` })),
                },
                {
                  name: "serials",
                  label: words.serials,
                  kind: "lines",
                  hint: words.oneToLine,
                },
              ]}
              action={createBatchAction}
              submit={words.openBatchHeading}
              done={words.openedFramesCanBeMeasured}
            />
          ) : (
            <EmptyState title={words.engineersOpenBatches}>{words.askOne}</EmptyState>
          )}
        </section>
        <section>
          <SectionHeading aside={words.newestTwenty}>{words.batches}</SectionHeading>
          <DataTable
            caption={words.newestBatches}
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: words.batch,
                kind: "code",
                cell: (batch) => <Link href={`/gate/batches/${encodeURIComponent(batch.key)}`}>{batch.key}</Link>,
              },
              { key: "supplier", label: words.supplier, kind: "code", cell: (batch) => batch.supplier },
              { key: "plan", label: words.plan, kind: "code", cell: (batch) => batch.plan },
              { key: "frames", label: words.frames, kind: "numeric", cell: (batch) => String(batch.frames) },
              {
                key: "serials",
                label: words.serials,
                cell: (batch) => (
                  <>
                    <span className="mono nowrap">{batch.firstSerial}</span>
                    {batch.frames === 1 ? null : (
                      <>
                        {words.to}
                        <span className="mono nowrap">{batch.lastSerial}</span>
                      </>
                    )}
                  </>
                ),
              },
              { key: "opened", label: words.opened, cell: (batch) => formatDay(batch.openedAt, { zone }) },
            ]}
            rows={batches}
            rowKey={(batch) => batch.id}
            empty={<EmptyState title={words.noBatchYet}>{words.openFirstOneBeside}</EmptyState>}
          />
        </section>
      </div>
    </SetupPage>
  );
}
