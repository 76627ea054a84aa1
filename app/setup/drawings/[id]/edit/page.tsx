import type { Metadata } from "next";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { getDrawingRevision } from "@/lib/server/drawings/queries";
import { requireViewer } from "../../../../_components/work-page";
import { nextRevision, toDrawingEntry } from "../../../_components/drawing-entry";
import { DrawingEditor } from "../../../_components/drawing-editor";
import { SetupPage } from "../../../_components/setup-page";
import { DRAWING_WORDS } from "../../../words/drawings";

const words = DRAWING_WORDS.edit;

export const metadata: Metadata = { title: words.changeDrawing };

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
          ? words.draftOfRevision(drawing.title, revision.revision)
          : words.revisedFrom(drawing.title, revision.revision)
      }
      lead={isDraft ? words.draftCanBeChanged : words.revisionStaysAsIs(revision.revision)}
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
