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
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { createBatchAction } from "../actions";

export const metadata: Metadata = { title: "Batches" };

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
    <SetupPage
      viewer={viewer}
      current="batches"
      title="Open a batch"
      lead="Frames that came or were made together: one supplier, one model, one lot. The station shows it at once."
    >
      <div className={`${parts.parts} ${parts.formAndList}`}>
        <section>
          <SectionHeading>New batch</SectionHeading>
          {mayDo(viewer, "setup.draft") ? (
            <EntryForm
              inline
              kind="go"
              fields={[
                { name: "key", label: "batch", kind: "code" },
                { name: "supplier", label: "supplier", kind: "choice", options: choices(overview.suppliers) },
                {
                  name: "model",
                  label: "frame model",
                  kind: "choice",
                  options: overview.models
                    .filter(({ inUse }) => inUse)
                    .map(({ key, name, drawing }) => ({
                      value: key,
                      label: `${key}, ${name} (${drawing})`,
                    })),
                },
                { name: "line", label: "line", kind: "choice", options: choices(overview.lines) },
                {
                  name: "plan",
                  label: "measuring plan",
                  kind: "choice",
                  options: plans
                    .filter((plan) => plan.state === "released")
                    .map(({ key, title, drawingKey }) => ({ value: key, label: `${key}, ${title} (${drawingKey})` })),
                },
                {
                  name: "serials",
                  label: "serials",
                  kind: "lines",
                  hint: "One to a line, or a range such as C41-05000..C41-05047. A tab, comma or semicolon and the mould may follow.",
                },
              ]}
              action={createBatchAction}
              submit="Open the batch"
              done="Opened; its frames can be measured at the stations of the line."
            />
          ) : (
            <EmptyState title="Engineers open batches">Ask one, or a person with that role.</EmptyState>
          )}
        </section>
        <section>
          <SectionHeading aside="the newest twenty">Batches</SectionHeading>
          <DataTable
            caption="Newest batches"
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: "batch",
                kind: "code",
                cell: (batch) => <Link href={`/gate/batches/${encodeURIComponent(batch.key)}`}>{batch.key}</Link>,
              },
              { key: "supplier", label: "supplier", kind: "code", cell: (batch) => batch.supplier },
              { key: "plan", label: "plan", kind: "code", cell: (batch) => batch.plan },
              { key: "frames", label: "frames", kind: "numeric", cell: (batch) => String(batch.frames) },
              {
                key: "serials",
                label: "serials",
                cell: (batch) => (
                  <>
                    <span className="mono nowrap">{batch.firstSerial}</span>
                    {batch.frames === 1 ? null : (
                      <>
                        {" to "}
                        <span className="mono nowrap">{batch.lastSerial}</span>
                      </>
                    )}
                  </>
                ),
              },
              { key: "opened", label: "opened", cell: (batch) => formatDay(batch.openedAt, { zone }) },
            ]}
            rows={batches}
            rowKey={(batch) => batch.id}
            empty={<EmptyState title="No batch yet">Open the first one beside.</EmptyState>}
          />
        </section>
      </div>
    </SetupPage>
  );
}
