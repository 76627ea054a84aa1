import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame } from "@/lib/ui/page-frame";

export default function NotFound() {
  return (
    <PageFrame>
      <EmptyState
        title="There is nothing at this address"
        keys={
          <ButtonLink href="/" kind="go">
            Choose a work area
          </ButtonLink>
        }
      >
        The page may have moved, or what it showed is not open to you. Nothing was changed. A serial, batch or stream is
        found fastest with the search field.
      </EmptyState>
    </PageFrame>
  );
}
