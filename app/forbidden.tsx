import { getViewer } from "@/lib/server/auth/current-viewer";
import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { WorkPage } from "./_components/work-page";
import { APP_WORDS } from "./_components/words";

const words = APP_WORDS.forbidden;

/** For who is signed in and asks for what is not theirs to see. */
export default async function Forbidden() {
  const viewer = await getViewer();
  const page = (
    <PageFrame head={<PageHead title={words.isNotOpenToYou} />}>
      <EmptyState
        title={words.nothingWasShownOrChanged}
        keys={
          <ButtonLink href="/" kind="go">
            {words.toYourWorkAreas}
          </ButtonLink>
        }
      >
        {words.askAdministratorOfPlant(
          viewer === null ? words.youAreNotSignedIn : words.hasNoRoleSeesPage(viewer.name),
        )}
      </EmptyState>
    </PageFrame>
  );
  return viewer === null ? page : <WorkPage viewer={viewer}>{page}</WorkPage>;
}
