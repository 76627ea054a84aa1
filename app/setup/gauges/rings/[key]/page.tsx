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
import { GAUGE_WORDS } from "../../../words/gauges";

const words = GAUGE_WORDS.ring;

export const metadata: Metadata = { title: words.settingRing };

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
      title={words.settingRingRing(ring.key)}
      lead={words.enterWhatNewerCertificateSays(
        users.length === 0 ? words.noGaugeIsSetWith : words.itSets(users.join(", ")),
      )}
      status={<Link href="/setup/gauges">{words.allRings}</Link>}
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
              label: words.certifiedSize,
              kind: "number",
              unit: "mm",
              value: String(ring.certifiedSizeMm),
            },
            {
              name: "uncertaintyUm",
              label: words.uK2,
              kind: "number",
              unit: "µm",
              value: String(ring.uncertaintyUm),
            },
            inUseField(ring.inUse, words.gaugesCanBeSetWith),
          ]}
          action={changeSettingRingAction}
          submit={words.save}
          done={words.changedAndRecordedInJournal}
        />
      ) : (
        <EmptyState title={words.engineersChange}>{words.askOne}</EmptyState>
      )}
    </SetupPage>
  );
}
