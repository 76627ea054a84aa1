import { getViewer } from "@/lib/server/auth/current-viewer";
import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { WorkPage } from "./_components/work-page";
import { APP_WORDS } from "./_components/words";

const words = APP_WORDS.notFound;

/** Keeps the rail for whoever is signed in: the search field is the way on. */
export default async function NotFound() {
  const viewer = await getViewer();
  const page = (
    <PageFrame head={<PageHead title={words.isNothingAtAddress} />}>
      <EmptyState
        title={words.nothingWasChanged}
        keys={
          <ButtonLink href="/" kind="go">
            {words.chooseWorkArea}
          </ButtonLink>
        }
      >
        {words.pageMayHaveMoved}
      </EmptyState>
    </PageFrame>
  );
  return viewer === null ? page : <WorkPage viewer={viewer}>{page}</WorkPage>;
}
