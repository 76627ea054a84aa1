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
import { DRAWING_WORDS } from "../../../words/drawings";
import parts from "../../../_components/parts.module.css";
import { releaseDrawingAction } from "../../../actions";
import { UncertaintyNotice } from "../../../_components/uncertainty-notice";

const words = DRAWING_WORDS.steps;

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
          <ButtonLink href={`/setup/drawings/${id}/edit`}>{isDraft ? words.changeDraft : words.revise}</ButtonLink>
        ) : null}
        {others.length > 0 ? (
          <ButtonLink href={`/setup/drawings/${id}/compare`}>{words.compareRevisions}</ButtonLink>
        ) : null}
        {mayDraft && state === "released" ? (
          <ButtonLink href={`/setup/plans/new?drawing=${id}`}>{words.newPlanFor}</ButtonLink>
        ) : null}
      </div>
      <UncertaintyNotice warnings={warnings} />
      {plansElsewhere.length > 0 && state === "released" ? (
        <ErrorNotice tone="caution" title={words.plansInForceMeasure}>
          {plansElsewhere.map((plan) => (
            <p key={plan.id}>
              {words.judgesByRevision(
                <Link href={`/setup/plans/${plan.id}`}>{words.plan(plan.key)}</Link>,
                plan.drawingRevision,
              )}
            </p>
          ))}
        </ErrorNotice>
      ) : null}
      {isDraft && mayDo(viewer, "setup.release") ? (
        <EntryForm
          kind="go"
          fields={[{ name: "id", label: "", kind: "hidden", value: id }]}
          action={releaseDrawingAction}
          submit={words.releaseRevision(revision.revision)}
          done={words.releasedNeverChangesAgainRevision}
        />
      ) : null}
    </>
  );
}
