import type { Metadata } from "next";
import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { listFirstSteps } from "@/lib/server/plant/first-steps";
import { getPlant } from "@/lib/server/plant/queries";
import { listDrawings } from "@/lib/server/drawings/queries";
import { listPlans } from "@/lib/server/plans/queries";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { FirstSteps } from "../_components/first-steps";
import { requireViewer } from "../_components/work-page";
import parts from "./_components/parts.module.css";
import { framesWords } from "./_components/plan-words";
import { SetupPage } from "./_components/setup-page";
import styles from "./setup.module.css";

export const metadata: Metadata = { title: "Setup" };

export default async function OverviewPage() {
  const viewer = await requireViewer("/setup", "setup.view");
  const [plant, drawings, plans, steps] = await Promise.all([
    getPlant(viewer),
    listDrawings(viewer),
    listPlans(viewer),
    listFirstSteps(viewer),
  ]);
  const mayDraft = mayDo(viewer, "setup.draft");
  const day = (time: string | null) => (time === null ? "not yet" : formatDay(time, { zone: plant.timeZone }));
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={plant.name}
      lead={
        plant.invented
          ? "Invented for demonstration: plant, people, suppliers, limits and numbers. A real plant enters its own drawings."
          : "By which drawing, plan and gauge frames are judged."
      }
    >
      <FirstSteps viewer={viewer} steps={steps} />
      <div className={styles.overview}>
        <section>
          <SectionHeading aside="a released revision never changes">Drawings</SectionHeading>
          <DataTable
            caption="Drawings"
            captionHidden
            rowHead="key"
            columns={[
              { key: "key", label: "drawing", kind: "code", cell: (drawing) => drawing.key },
              { key: "title", label: "title", cell: (drawing) => drawing.title },
              {
                key: "revisions",
                label: "revisions",
                cell: (drawing) => (
                  <>
                    {drawing.revisions.map((one) => (
                      <Link key={one.id} href={`/setup/drawings/${one.id}`} className={styles.revision}>
                        {one.revision} <small>{one.state}</small>
                      </Link>
                    ))}
                  </>
                ),
              },
            ]}
            rows={drawings}
            rowKey={(drawing) => drawing.id}
            empty={<EmptyState title="No drawing yet">An engineer drafts and releases the first one.</EmptyState>}
          />
          {mayDraft ? (
            <p className={parts.keys}>
              <ButtonLink href="/setup/drawings/new">New drawing</ButtonLink>
            </p>
          ) : null}
        </section>
        <section>
          <SectionHeading>Measuring plans</SectionHeading>
          <DataTable
            caption="Measuring plans"
            captionHidden
            rowHead="key"
            columns={[
              { key: "key", label: "plan", kind: "code", cell: (plan) => plan.key },
              {
                key: "revision",
                label: "revision",
                cell: (plan) => (
                  <Link href={`/setup/plans/${plan.id}`}>
                    {plan.revision} <small>{plan.state}</small>
                  </Link>
                ),
              },
              {
                key: "drawing",
                label: "for drawing",
                kind: "code",
                cell: (plan) => `${plan.drawingKey} ${plan.drawingRevision}`,
              },
              { key: "readings", label: "readings", kind: "numeric", cell: (plan) => String(plan.readingNames.length) },
              { key: "frames", label: "which frames", cell: (plan) => framesWords(plan.frames) },
              { key: "released", label: "released", cell: (plan) => day(plan.releasedAt) },
            ]}
            rows={plans}
            rowKey={(plan) => plan.id}
            empty={<EmptyState title="No plan yet">A plan says which readings are keyed, in which order.</EmptyState>}
          />
          {mayDraft ? (
            <p className={parts.keys}>
              <ButtonLink href="/setup/plans/new">New plan</ButtonLink>
            </p>
          ) : null}
        </section>
      </div>
    </SetupPage>
  );
}
