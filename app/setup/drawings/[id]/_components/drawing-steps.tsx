import Link from "next/link";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { planWarningText } from "@/lib/format/plan-words";
import { uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import type { DrawingRevisionPage } from "@/lib/server/drawings/queries";
import { ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { EntryForm } from "@/lib/ui/entry-form";
import parts from "../../../_components/parts.module.css";
import { releaseDrawingAction } from "../../../actions";
import { UncertaintyNotice } from "../../../_components/uncertainty-notice";

/** What can be done with a drawing revision: change the draft, release it, revise it, compare it, plan with it. */
export function DrawingSteps({ viewer, revision }: Readonly<{ viewer: PersonViewer; revision: DrawingRevisionPage }>) {
  const { id, state, others, plansElsewhere, drawing } = revision;
  const isDraft = state === "draft";
  const mayDraft = mayDo(viewer, "setup.draft");
  const warnings = uncertaintyWarnings(drawing, fullPlan(drawing)).map(planWarningText);
  return (
    <>
      <div className={parts.actions}>
        {mayDraft ? (
          <ButtonLink href={`/setup/drawings/${id}/edit`}>{isDraft ? "Change the draft" : "Revise"}</ButtonLink>
        ) : null}
        {others.length > 0 ? <ButtonLink href={`/setup/drawings/${id}/compare`}>Compare revisions</ButtonLink> : null}
        {mayDraft && state === "released" ? (
          <ButtonLink href={`/setup/plans/new?drawing=${id}`}>New plan for it</ButtonLink>
        ) : null}
      </div>
      <UncertaintyNotice warnings={warnings} />
      {plansElsewhere.length > 0 && state === "released" ? (
        <ErrorNotice tone="caution" title="Plans in force measure by another revision">
          {plansElsewhere.map((plan) => (
            <p key={plan.id}>
              <Link href={`/setup/plans/${plan.id}`}>Plan {plan.key}</Link> judges by revision {plan.drawingRevision}.
              Revise it, too.
            </p>
          ))}
        </ErrorNotice>
      ) : null}
      {isDraft && mayDo(viewer, "setup.release") ? (
        <EntryForm
          kind="go"
          fields={[{ name: "id", label: "", kind: "hidden", value: id }]}
          action={releaseDrawingAction}
          submit={`Release revision ${revision.revision}`}
          done="Released. It never changes again; the revision before is superseded."
        />
      ) : null}
    </>
  );
}
