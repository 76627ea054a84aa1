import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { mayDo } from "@/lib/server/auth/permissions";
import { listGauges, listRings } from "@/lib/server/gauges/register";
import { EmptyState } from "@/lib/ui/empty-state";
import { requireViewer } from "../../../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { inUseField, versionField } from "../../../_components/in-use";
import { SetupPage } from "../../../_components/setup-page";
import { changeSettingRingAction } from "../../actions";

export const metadata: Metadata = { title: "Setting ring" };

export default async function RingPage({ params }: PageProps<"/setup/gauges/rings/[key]">) {
  const { key: encoded } = await params;
  const viewer = await requireViewer(`/setup/gauges/rings/${encoded}`, "gauges.view");
  const [rings, gauges] = await Promise.all([listRings(viewer), listGauges(viewer)]);
  const ring = rings.find(({ key }) => key === addressPart(encoded));
  if (!ring) notFound();
  const users = gauges.filter((gauge) => gauge.ring === ring.key).map((gauge) => gauge.key);
  return (
    <SetupPage
      viewer={viewer}
      current="gauges"
      title={`Setting ring ${ring.key}`}
      lead={`Enter what a newer certificate says. ${users.length === 0 ? "No gauge is set with it." : `It sets ${users.join(", ")}.`} Zero checks that were done stay judged by the size it had.`}
      status={<Link href="/setup/gauges">All rings</Link>}
    >
      {mayDo(viewer, "gauges.manage") ? (
        <EntryForm
          keep
          kind="go"
          fields={[
            { name: "key", label: "", kind: "hidden", value: ring.key },
            versionField(ring.version),
            {
              name: "certifiedSizeMm",
              label: "certified size",
              kind: "number",
              unit: "mm",
              value: String(ring.certifiedSizeMm),
            },
            {
              name: "uncertaintyUm",
              label: "its U (k = 2)",
              kind: "number",
              unit: "µm",
              value: String(ring.uncertaintyUm),
            },
            inUseField(ring.inUse, "gauges can be set with it"),
          ]}
          action={changeSettingRingAction}
          submit="Save"
          done="Changed, and recorded in the journal."
        />
      ) : (
        <EmptyState title="Engineers change this">Ask one, or a person with that role.</EmptyState>
      )}
    </SetupPage>
  );
}
