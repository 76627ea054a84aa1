import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { getDrawingRevision, listDrawings } from "@/lib/server/drawings/queries";
import { listPlans } from "@/lib/server/plans/queries";
import { getObservedForm } from "@/lib/server/plans/observed-form";
import { EmptyState } from "@/lib/ui/empty-state";
import { requireViewer } from "../../../_components/work-page";
import { PLAN_WORDS } from "../../words/plans";
import parts from "../../_components/parts.module.css";
import { observedFormWords } from "../../_components/form-words";
import { SetupPage } from "../../_components/setup-page";
import { PlanEditor } from "../_components/plan-editor";
import { plansFor, toPlanEntry } from "../_components/plan-entry";

const words = PLAN_WORDS.begin;

export const metadata: Metadata = { title: words.newMeasuringPlan };

export default async function NewPlanPage({ searchParams }: PageProps<"/setup/plans/new">) {
  const viewer = await requireViewer("/setup/plans/new", "setup.draft");
  const asked = (await searchParams)["drawing"];
  if (typeof asked === "string") {
    const [revision, plans] = await Promise.all([
      getDrawingRevision(viewer, asked).catch((error: unknown) => {
        if (error instanceof AppError && error.code === "not-found") notFound();
        throw error;
      }),
      listPlans(viewer),
    ]);
    const { drawing } = revision;
    const observed = await getObservedForm(viewer, drawing.key);
    const { plantZone: zone } = viewer;
    return (
      <SetupPage viewer={viewer} current="overview" title={words.newPlanFor(drawing.title)} lead={words.lead}>
        <PlanEditor
          mode="new"
          drawing={drawing}
          drawingRevisionId={revision.id}
          observed={{ words: observedFormWords(observed, zone), form: observed.suggestion }}
          others={plansFor(plans, drawing.key)}
          initial={toPlanEntry({
            key: "",
            title: "",
            revision: "1",
            order: fullPlan(drawing).map(formatReadingName),
          })}
        />
      </SetupPage>
    );
  }
  const released = (await listDrawings(viewer)).flatMap((drawing) =>
    drawing.revisions.filter((one) => one.state === "released").map((revision) => ({ drawing, revision })),
  );
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={words.whichDrawingIsMeasured}
      lead={words.planIsForOneReleased}
    >
      {released.length === 0 ? (
        <EmptyState title={words.noDrawingIsReleasedYet}>
          {words.andReleaseFirst(<Link href="/setup/drawings/new">{words.draftOneFromTemplate}</Link>)}
        </EmptyState>
      ) : (
        <ul className={parts.list}>
          {released.map(({ drawing, revision }) => (
            <li key={revision.id}>
              <Link href={`/setup/plans/new?drawing=${revision.id}`}>
                {words.revision(<span className="mono">{drawing.key}</span>, drawing.title, revision.revision)}
              </Link>
            </li>
          ))}
        </ul>
      )}
    </SetupPage>
  );
}
