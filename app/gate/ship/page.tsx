import type { Metadata } from "next";
import { mayDo } from "@/lib/server/auth/permissions";
import { countShipments } from "@/lib/server/shipments/queries";
import { ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { ShipScan } from "./_components/ship-scan";
import { GATE_WORDS } from "../words";

const words = GATE_WORDS.shipScan;

export const metadata: Metadata = { title: words.shipScan };

export default async function ShipPage() {
  const viewer = await requireViewer("/gate/ship");
  if (!mayDo(viewer, "gate.ship")) {
    return (
      <WorkPage viewer={viewer} current="gate">
        <PageFrame head={<PageHead title={words.shipScan} />}>
          <ErrorNotice title={words.onlyDockShips} keys={<ButtonLink href="/gate">{words.backToGate}</ButtonLink>}>
            <p>{words.mayNotShip(viewer.name)}</p>
          </ErrorNotice>
        </PageFrame>
      </WorkPage>
    );
  }
  const counts = await countShipments(viewer);
  const { plantZone: zone } = viewer;
  return <ShipScan place={viewer.name} zone={zone} counts={counts} />;
}
