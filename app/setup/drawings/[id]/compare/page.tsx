import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { compareDrawings } from "@/lib/quality/compare-drawings";
import { getDrawingRevision, type DrawingRevisionPage } from "@/lib/server/drawings/queries";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { requireViewer } from "../../../../_components/work-page";
import { placeWords, valueWords } from "../../../_components/place-words";
import { SetupPage } from "../../../_components/setup-page";
import { DRAWING_WORDS } from "../../../words/drawings";

const words = DRAWING_WORDS.compare;

export const metadata: Metadata = { title: words.compareRevisions };

export default async function ComparePage({ params, searchParams }: PageProps<"/setup/drawings/[id]/compare">) {
  const [{ id }, search] = await Promise.all([params, searchParams]);
  const viewer = await requireViewer(`/setup/drawings/${id}/compare`, "setup.view");
  const find = async (key: string): Promise<DrawingRevisionPage> =>
    getDrawingRevision(viewer, key).catch((error: unknown) => {
      if (error instanceof AppError && error.code === "not-found") notFound();
      throw error;
    });
  const after = await find(id);
  const asked = typeof search["with"] === "string" ? search["with"] : after.others[0]?.id;
  const before = asked === undefined ? null : await find(asked);
  if (before !== null && before.drawingKey !== after.drawingKey) notFound();
  const changes = before === null ? [] : compareDrawings(before.drawing, after.drawing);
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={
        before === null
          ? words.hasOneRevisionOnly(after.drawingKey)
          : changes.length === 0
            ? words.nothingDiffersBetweenAnd(before.revision, after.revision)
            : words.betweenAnd(
                changes.length,
                changes.length === 1 ? words.entryDiffers : words.entriesDiffer,
                before.revision,
                after.revision,
              )
      }
      lead={after.drawing.title}
      status={<Link href={`/setup/drawings/${id}`}>{words.revision(after.revision)}</Link>}
    >
      {after.others.length > 1 ? (
        <p>
          {words.compareWith(
            after.others.map((other) => (
              <Link key={other.id} href={`/setup/drawings/${id}/compare?with=${other.id}`}>
                {other.revision} ({other.state}){" "}
              </Link>
            )),
          )}
        </p>
      ) : null}
      <DataTable
        caption={words.whatDiffers}
        captionHidden
        rowHead="place"
        columns={[
          { key: "place", label: words.entry, cell: (change) => placeWords(change.path) },
          {
            key: "before",
            label: words.revisionRevision(before?.revision ?? ""),
            kind: "numeric",
            cell: (change) => valueWords(change.path, change.before),
          },
          {
            key: "after",
            label: words.revisionRevision(after.revision),
            kind: "numeric",
            cell: (change) => valueWords(change.path, change.after),
          },
        ]}
        rows={changes}
        rowKey={(change) => change.path}
        empty={
          before === null ? (
            <EmptyState title={words.nothingToCompareWith}>{words.reviseDrawing}</EmptyState>
          ) : (
            <EmptyState title={words.nothingDiffers}>{words.bothRevisionsSaySame}</EmptyState>
          )
        }
      />
    </SetupPage>
  );
}
