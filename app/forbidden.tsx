import { getViewer } from "@/lib/server/auth/current-viewer";
import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { WorkPage } from "./_components/work-page";

/** For who is signed in and asks for what is not theirs to see. */
export default async function Forbidden() {
  const viewer = await getViewer();
  const page = (
    <PageFrame head={<PageHead title="This is not open to you" />}>
      <EmptyState
        title="Nothing was shown or changed"
        keys={
          <ButtonLink href="/" kind="go">
            To your work areas
          </ButtonLink>
        }
      >
        {viewer === null ? "You are not signed in." : `${viewer.name} has no role that sees this page.`} Ask an
        administrator of the plant if one is missing.
      </EmptyState>
    </PageFrame>
  );
  return viewer === null ? page : <WorkPage viewer={viewer}>{page}</WorkPage>;
}
