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
import parts from "../../_components/parts.module.css";
import { observedFormWords } from "../../_components/form-words";
import { SetupPage } from "../../_components/setup-page";
import { PlanEditor } from "../_components/plan-editor";
import { plansFor, toPlanEntry } from "../_components/plan-entry";

export const metadata: Metadata = { title: "New measuring plan" };

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
      <SetupPage
        viewer={viewer}
        current="overview"
        title={`New plan for ${drawing.title}`}
        lead="It starts as the full plan: leave out what routine does not need, and see what that does to the uncertainty."
      >
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
      title="Which drawing is measured?"
      lead="A plan is for one released revision of a drawing."
    >
      {released.length === 0 ? (
        <EmptyState title="No drawing is released yet">
          <Link href="/setup/drawings/new">Draft one from a template</Link> and release it first.
        </EmptyState>
      ) : (
        <ul className={parts.list}>
          {released.map(({ drawing, revision }) => (
            <li key={revision.id}>
              <Link href={`/setup/plans/new?drawing=${revision.id}`}>
                <span className="mono">{drawing.key}</span> {drawing.title}, revision {revision.revision}
              </Link>
            </li>
          ))}
        </ul>
      )}
    </SetupPage>
  );
}
