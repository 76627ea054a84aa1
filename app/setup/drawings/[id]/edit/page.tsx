import type { Metadata } from "next";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { getDrawingRevision } from "@/lib/server/drawings/queries";
import { requireViewer } from "../../../../_components/work-page";
import { nextRevision, toDrawingEntry } from "../../../_components/drawing-entry";
import { DrawingEditor } from "../../../_components/drawing-editor";
import { SetupPage } from "../../../_components/setup-page";

export const metadata: Metadata = { title: "Change a drawing" };

export default async function EditDrawingPage({ params }: PageProps<"/setup/drawings/[id]/edit">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/drawings/${id}/edit`, "setup.draft");
  const revision = await getDrawingRevision(viewer, id).catch((error: unknown) => {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  });
  const { drawing } = revision;
  const isDraft = revision.state === "draft";
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={
        isDraft
          ? `${drawing.title}, draft of revision ${revision.revision}`
          : `${drawing.title}, revised from ${revision.revision}`
      }
      lead={
        isDraft
          ? "A draft can be changed until it is released."
          : `Revision ${revision.revision} stays as it is; this drafts the one that follows.`
      }
    >
      {isDraft ? (
        <DrawingEditor mode="draft" id={id} seen={revision.seen} initial={toDrawingEntry(drawing)} />
      ) : (
        <DrawingEditor
          mode="revision"
          initial={toDrawingEntry({
            ...drawing,
            revision: nextRevision(revision.newestRevision),
          })}
        />
      )}
    </SetupPage>
  );
}
