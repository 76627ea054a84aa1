import type { Metadata } from "next";
import { AppError } from "@/lib/errors";
import { mayDo } from "@/lib/server/auth/permissions";
import { countShipments } from "@/lib/server/shipments/queries";
import { getPlantZone } from "@/lib/server/setup/queries";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { ShipScan } from "./_components/ship-scan";

export const metadata: Metadata = { title: "Ship scan" };

export default async function ShipPage() {
  const viewer = await requireViewer("/gate/ship");
  if (!mayDo(viewer, "gate.ship")) {
    const refused = new AppError("forbidden", `${viewer.name} may not ship frames. Sign in as somebody of the dock.`);
    return (
      <WorkPage viewer={viewer} current="gate">
        <PageFrame>
          <ErrorNotice title="Only the dock ships">{refused.userMessage}</ErrorNotice>
        </PageFrame>
      </WorkPage>
    );
  }
  const [counts, zone] = await Promise.all([countShipments(viewer), getPlantZone(viewer)]);
  return <ShipScan place={viewer.name} zone={zone} counts={counts} />;
}
