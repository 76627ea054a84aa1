import type { Metadata } from "next";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { getDrawingRevision, getPlanRevision, listDrawings } from "@/lib/server/setup/queries";
import { requireViewer } from "../../../../_components/work-page";
import { nextRevision } from "../../../_components/drawing-entry";
import { SetupPage } from "../../../_components/setup-page";
import { PlanEditor, type PlanEntry } from "../../_components/plan-editor";

export const metadata: Metadata = { title: "Change a plan" };

export default async function EditPlanPage({ params }: PageProps<"/setup/plans/[id]/edit">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/plans/${id}/edit`, "setup.draft");
  const [plan, drawings] = await Promise.all([
    getPlanRevision(viewer, id).catch((error: unknown) => {
      if (error instanceof AppError && error.code === "not-found") notFound();
      throw error;
    }),
    listDrawings(viewer),
  ]);
  const isDraft = plan.state === "draft";
  const inForce = drawings
    .find((drawing) => drawing.key === plan.drawingKey)
    ?.revisions.find((revision) => revision.state === "released");
  const drawingRevision = await getDrawingRevision(viewer, inForce?.id ?? plan.drawingRevisionId);
  const { frames, settings } = plan;
  const rule = settings.firstOff;
  const initial: PlanEntry = {
    key: plan.key,
    title: plan.title,
    revision: isDraft ? plan.revision : nextRevision(plan.revisions[0]?.revision ?? plan.revision),
    order: plan.readingNames,
    frames: frames.kind === "every" || frames.kind === "drawn" ? frames.kind : "all",
    n: String(frames.n ?? 10),
    firstOfBatch: frames.firstOff ?? true,
    size: String(frames.size ?? 20),
    firstOff: rule?.each ?? "none",
    shiftStarts: rule?.each === "shift" ? rule.starts.join(", ") : "06:00, 14:00, 22:00",
  };
  const moves = drawingRevision.revision !== plan.drawingRevision;
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={
        isDraft
          ? `Plan ${plan.key}, draft of revision ${plan.revision}`
          : `Plan ${plan.key}, revised from ${plan.revision}`
      }
      lead={
        moves
          ? `It moves from drawing revision ${plan.drawingRevision} to ${drawingRevision.revision}, the one in force.`
          : "Stations load a revision when it is released, not before."
      }
    >
      <PlanEditor
        mode={isDraft ? "draft" : "revision"}
        id={id}
        seen={plan.seen}
        drawing={drawingRevision.drawing}
        drawingRevisionId={drawingRevision.id}
        initial={initial}
      />
    </SetupPage>
  );
}
