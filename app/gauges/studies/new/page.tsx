import type { Metadata } from "next";
import Link from "next/link";
import { listGauges } from "@/lib/server/gauges/register";
import { EntryForm } from "@/lib/ui/entry-form";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { planStudyAction } from "../../actions";
import { STUDY_WORDS } from "../../words";

const words = STUDY_WORDS.plan;

export const metadata: Metadata = { title: words.title };

export default async function NewStudyPage() {
  const viewer = await requireViewer("/gauges/studies/new", "gauges.manage");
  const gauges = (await listGauges(viewer)).filter(({ inUse, kind }) => inUse && kind !== "plug" && kind !== "bar");
  return (
    <WorkPage viewer={viewer} current="gauges">
      <PageFrame
        head={
          <PageHead title={words.title} lead={words.lead} status={<Link href="/gauges/studies">{words.back}</Link>} />
        }
      >
        <EntryForm
          kind="go"
          fields={[
            {
              name: "gauge",
              label: words.gauge,
              kind: "choice",
              options: gauges.map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
            },
            { name: "title", label: words.name },
            {
              name: "unit",
              label: words.unit,
              kind: "choice",
              options: ["mm", "µm"].map((value) => ({ value, label: value })),
            },
            { name: "tolerance", label: words.tolerance, kind: "number", optional: true, hint: words.toleranceHint },
            { name: "parts", label: words.parts, kind: "lines", hint: words.partsHint },
            { name: "inspectors", label: words.inspectors, kind: "lines", hint: words.inspectorsHint },
            { name: "trials", label: words.trials, kind: "number", value: "3" },
          ]}
          action={planStudyAction}
          submit={words.submit}
          done={words.done}
        />
      </PageFrame>
    </WorkPage>
  );
}
