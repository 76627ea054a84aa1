import type { Metadata } from "next";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { getDrawingRevision, listDrawings } from "@/lib/server/drawings/queries";
import { getPlanRevision, listPlans } from "@/lib/server/plans/queries";
import { getObservedForm } from "@/lib/server/plans/observed-form";
import { requireViewer } from "../../../../_components/work-page";
import { nextRevision } from "../../../_components/drawing-entry";
import { observedFormWords } from "../../../_components/form-words";
import { SetupPage } from "../../../_components/setup-page";
import { PlanEditor } from "../../_components/plan-editor";
import { plansFor, toPlanEntry } from "../../_components/plan-entry";
import { PLAN_WORDS } from "../../../words/plans";

const words = PLAN_WORDS.edit;

export const metadata: Metadata = { title: words.changePlan };

export default async function EditPlanPage({ params }: PageProps<"/setup/plans/[id]/edit">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/plans/${id}/edit`, "setup.draft");
  const [plan, drawings, plans] = await Promise.all([
    getPlanRevision(viewer, id).catch((error: unknown) => {
      if (error instanceof AppError && error.code === "not-found") notFound();
      throw error;
    }),
    listDrawings(viewer),
    listPlans(viewer),
  ]);
  const observed = await getObservedForm(viewer, plan.drawingKey);
  const { plantZone: zone } = viewer;
  const isDraft = plan.state === "draft";
  const inForce = drawings
    .find((drawing) => drawing.key === plan.drawingKey)
    ?.revisions.find((revision) => revision.state === "released");
  const drawingRevision = await getDrawingRevision(viewer, inForce?.id ?? plan.drawingRevisionId);
  const revision = isDraft ? plan.revision : nextRevision(plan.revisions[0]?.revision ?? plan.revision);
  const initial = toPlanEntry(
    { key: plan.key, title: plan.title, revision, order: plan.readingNames },
    plan.frames,
    plan.settings,
  );
  const moves = drawingRevision.revision !== plan.drawingRevision;
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={
        isDraft ? words.planDraftOfRevision(plan.key, plan.revision) : words.planRevisedFrom(plan.key, plan.revision)
      }
      lead={
        moves
          ? words.movesFromDrawingRevisionTo(plan.drawingRevision, drawingRevision.revision)
          : words.stationsLoadRevision
      }
    >
      <PlanEditor
        mode={isDraft ? "draft" : "revision"}
        id={id}
        seen={plan.seen}
        drawing={drawingRevision.drawing}
        drawingRevisionId={drawingRevision.id}
        observed={{ words: observedFormWords(observed, zone), form: observed.suggestion }}
        others={plansFor(plans, plan.drawingKey, plan.key)}
        initial={initial}
      />
    </SetupPage>
  );
}
