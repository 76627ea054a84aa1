import type { Metadata } from "next";
import { mayDo } from "@/lib/server/auth/permissions";
import { countShipments } from "@/lib/server/shipments/queries";
import { ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { ShipScan } from "./_components/ship-scan";

export const metadata: Metadata = { title: "Ship scan" };

export default async function ShipPage() {
  const viewer = await requireViewer("/gate/ship");
  if (!mayDo(viewer, "gate.ship")) {
    return (
      <WorkPage viewer={viewer} current="gate">
        <PageFrame head={<PageHead title="Ship scan" />}>
          <ErrorNotice title="Only the dock ships" keys={<ButtonLink href="/gate">Back to Gate</ButtonLink>}>
            <p>
              {viewer.name} may not ship frames; nothing was changed. Sign in as somebody of the dock, or look a frame
              up with the search field: its record says whether it may ship.
            </p>
          </ErrorNotice>
        </PageFrame>
      </WorkPage>
    );
  }
  const counts = await countShipments(viewer);
  const { plantZone: zone } = viewer;
  return <ShipScan place={viewer.name} zone={zone} counts={counts} />;
}
