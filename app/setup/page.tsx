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
import { SETUP_WORDS } from "./words/first-page";
import parts from "./_components/parts.module.css";
import { framesWords } from "./_components/plan-words";
import { SetupPage } from "./_components/setup-page";
import styles from "./setup.module.css";

const words = SETUP_WORDS.overview;

export const metadata: Metadata = { title: words.setup };

export default async function OverviewPage() {
  const viewer = await requireViewer("/setup", "setup.view");
  const [plant, drawings, plans, steps] = await Promise.all([
    getPlant(viewer),
    listDrawings(viewer),
    listPlans(viewer),
    listFirstSteps(viewer),
  ]);
  const mayDraft = mayDo(viewer, "setup.draft");
  const day = (time: string | null) => (time === null ? words.notYet : formatDay(time, { zone: plant.timeZone }));
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={plant.name}
      lead={plant.invented ? words.inventedForDemonstration : words.byWhichDrawing}
    >
      <FirstSteps viewer={viewer} steps={steps} />
      <div className={styles.overview}>
        <section>
          <SectionHeading aside={words.releasedRevisionNeverChanges}>{words.drawings}</SectionHeading>
          <DataTable
            caption={words.drawings}
            captionHidden
            rowHead="key"
            columns={[
              { key: "key", label: words.drawing, kind: "code", cell: (drawing) => drawing.key },
              { key: "title", label: words.title, cell: (drawing) => drawing.title },
              {
                key: "revisions",
                label: words.revisions,
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
            empty={<EmptyState title={words.noDrawingYet}>{words.engineerDraftsAndReleasesFirst}</EmptyState>}
          />
          {mayDraft ? (
            <p className={parts.keys}>
              <ButtonLink href="/setup/drawings/new">{words.newDrawing}</ButtonLink>
            </p>
          ) : null}
        </section>
        <section>
          <SectionHeading>{words.measuringPlans}</SectionHeading>
          <DataTable
            caption={words.measuringPlans}
            captionHidden
            rowHead="key"
            columns={[
              { key: "key", label: words.plan, kind: "code", cell: (plan) => plan.key },
              {
                key: "revision",
                label: words.revision,
                cell: (plan) => (
                  <Link href={`/setup/plans/${plan.id}`}>
                    {plan.revision} <small>{plan.state}</small>
                  </Link>
                ),
              },
              {
                key: "drawing",
                label: words.forDrawing,
                kind: "code",
                cell: (plan) => `${plan.drawingKey} ${plan.drawingRevision}`,
              },
              {
                key: "readings",
                label: words.readings,
                kind: "numeric",
                cell: (plan) => String(plan.readingNames.length),
              },
              { key: "frames", label: words.whichFrames, cell: (plan) => framesWords(plan.frames) },
              { key: "released", label: words.released, cell: (plan) => day(plan.releasedAt) },
            ]}
            rows={plans}
            rowKey={(plan) => plan.id}
            empty={<EmptyState title={words.noPlanYet}>{words.planSaysWhichReadings}</EmptyState>}
          />
          {mayDraft ? (
            <p className={parts.keys}>
              <ButtonLink href="/setup/plans/new">{words.newPlan}</ButtonLink>
            </p>
          ) : null}
        </section>
      </div>
    </SetupPage>
  );
}
