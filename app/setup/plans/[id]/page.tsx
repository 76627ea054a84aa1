import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { formatDay } from "@/lib/format/date-text";
import { planWarningText } from "@/lib/format/plan-words";
import { uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import { mayDo } from "@/lib/server/auth/permissions";
import { getPlanRevision } from "@/lib/server/plans/queries";
import { listExceededForm } from "@/lib/server/plans/observed-form";
import { ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { KeyValues } from "@/lib/ui/key-values";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { exceededFormWords } from "../../_components/form-words";
import { PLAN_WORDS } from "../../words/plans";
import parts from "../../_components/parts.module.css";
import { SetupPage } from "../../_components/setup-page";
import { releasePlanAction } from "../../actions";
import { PlanView } from "../_components/plan-view";
import { readNames } from "../_components/plan-choices";
import { PlanUncertaintyTable } from "../_components/plan-uncertainty";
import {
  firstOffWords,
  framesWords,
  knownFormWords,
  temperatureWords,
  weakerPlansWords,
  zeroCheckWords,
} from "../../_components/plan-words";
import { UncertaintyNotice } from "../../_components/uncertainty-notice";

const words = PLAN_WORDS.plan;

export const metadata: Metadata = { title: words.measuringPlan };

export default async function PlanPage({ params }: PageProps<"/setup/plans/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/plans/${id}`, "setup.view");
  const { plantZone: zone } = viewer;
  const plan = await getPlanRevision(viewer, id).catch((error: unknown) => {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  });
  const names = readNames(plan.readingNames);
  const measuring = measuringOptions(plan.settings);
  const exceeded = await listExceededForm(viewer, plan, names);
  const isDraft = plan.state === "draft";
  const warnings = uncertaintyWarnings(plan.drawing, names, measuring).map(planWarningText);
  return (
    <SetupPage
      viewer={viewer}
      current="overview"
      title={words.revision(plan.title, plan.revision)}
      lead={words.planForDrawingReadings(plan.key, plan.drawingKey, plan.drawingRevision, names.length)}
      status={plan.state}
    >
      <div className={parts.actions}>
        {mayDo(viewer, "setup.draft") ? (
          <ButtonLink href={`/setup/plans/${id}/edit`}>{isDraft ? words.changeDraft : words.revise}</ButtonLink>
        ) : null}
        {plan.revisions
          .filter((one) => one.id !== id)
          .map((one) => (
            <Link key={one.id} href={`/setup/plans/${one.id}`}>
              {words.revisionState(one.revision, one.state)}
            </Link>
          ))}
      </div>
      {exceeded.length === 0 ? null : (
        <ErrorNotice tone="caution" title={words.streamsShowMoreForm}>
          {exceeded.map((stream) => (
            <p key={`${stream.line} ${stream.model} ${stream.operation}`}>{exceededFormWords(stream)}</p>
          ))}
          <p>{words.revisePlanWithComputedForm}</p>
        </ErrorNotice>
      )}
      <UncertaintyNotice warnings={warnings} />
      {isDraft && mayDo(viewer, "setup.release") ? (
        <EntryForm
          kind="go"
          fields={[{ name: "id", label: "", kind: "hidden", value: id }]}
          action={releasePlanAction}
          submit={words.releaseRevision(plan.revision)}
          done={words.releasedStationsLoadAndRevision}
        />
      ) : null}
      <div className={parts.parts}>
        <PlanView drawing={plan.drawing} order={plan.readingNames} />
        <section>
          <SectionHeading>{words.inShort}</SectionHeading>
          <KeyValues
            pairs={[
              { label: words.whichFrames, value: framesWords(plan.frames) },
              { label: words.firstOffRelease, value: firstOffWords(plan.settings.firstOff) },
              { label: words.weakerPlansCount, value: weakerPlansWords(plan.settings.weakerPlans) },
              { label: words.zeroChecks, value: zeroCheckWords(plan.settings.zeroCheck) },
              { label: words.temperature, value: temperatureWords(plan.settings.temperature) },
              { label: words.formDoesNotSee, value: knownFormWords(plan.settings.form) },
              {
                label: words.drawing,
                value: (
                  <Link href={`/setup/drawings/${plan.drawingRevisionId}`}>
                    {plan.drawingKey} {plan.drawingRevision}, {plan.drawingState}
                  </Link>
                ),
              },
              {
                label: words.released,
                value: plan.releasedAt === null ? words.notYet : formatDay(plan.releasedAt, { zone }),
              },
            ]}
          />
          <div className={parts.section}>
            <SectionHeading>{words.uUnderPlan}</SectionHeading>
            <PlanUncertaintyTable drawing={plan.drawing} names={names} measuring={measuring} />
          </div>
        </section>
      </div>
    </SetupPage>
  );
}
