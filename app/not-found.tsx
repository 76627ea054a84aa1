import { getViewer } from "@/lib/server/auth/current-viewer";
import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { WorkPage } from "./_components/work-page";

/** Keeps the rail for whoever is signed in: the search field is the way on. */
export default async function NotFound() {
  const viewer = await getViewer();
  const page = (
    <PageFrame head={<PageHead title="There is nothing at this address" />}>
      <EmptyState
        title="Nothing was changed"
        keys={
          <ButtonLink href="/" kind="go">
            Choose a work area
          </ButtonLink>
        }
      >
        The page may have moved, or what it showed is not open to you. A serial, batch or stream is found fastest with
        the search field.
      </EmptyState>
    </PageFrame>
  );
  return viewer === null ? page : <WorkPage viewer={viewer}>{page}</WorkPage>;
}
