import { causeName } from "@/lib/format/case-words";
import type { CasePage } from "@/lib/server/cases/queries";
import { EntryForm } from "@/lib/ui/entry-form";
import { Tick } from "@/lib/ui/field";
import { SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { assignCaseCauseAction, assignOwnerAction, closeCaseAction, reopenCaseAction } from "../../actions";
import { CASE_WORDS } from "../../words";
import styles from "../../cases.module.css";

const { act } = CASE_WORDS;

/** Who has it, what it was, and its end; of a closed case that it opens again. */
export function CaseDecision({
  page,
  owners,
}: Readonly<{ page: CasePage; owners: readonly { readonly id: string; readonly name: string }[] }>) {
  const hidden = { name: "caseId", label: "", kind: "hidden", value: page.id } as const;
  const possible = page.found.causes.filter(({ lnOdds }) => lnOdds !== null);
  return (
    <Sheet decision>
      <div className={styles.acts}>
        <SectionHeading>{act.heading}</SectionHeading>
        {page.state === "open" ? (
          <>
            <EntryForm
              action={assignOwnerAction}
              submit={act.give}
              done={act.given}
              kind="plain"
              keep
              fields={[
                hidden,
                {
                  name: "ownerId",
                  label: act.owner,
                  kind: "choice",
                  optional: true,
                  value: page.ownerId ?? "",
                  options: owners.map(({ id, name }) => ({ value: id, label: name })),
                },
              ]}
            />
            <EntryForm
              action={assignCaseCauseAction}
              submit={act.assign}
              done={act.assigned}
              kind="plain"
              fields={[
                hidden,
                {
                  name: "cause",
                  label: act.cause,
                  kind: "choice",
                  optional: true,
                  hint: act.causeHint,
                  value: page.cause ?? "",
                  options: possible.map(({ cause }) => ({ value: cause, label: causeName(cause) })),
                },
                { name: "own", label: act.own, optional: true },
              ]}
            />
            <EntryForm
              action={closeCaseAction}
              submit={act.close}
              done={act.closed}
              kind="plain"
              fields={[hidden, { name: "reason", label: act.reason }]}
            >
              {page.overAt === null ? (
                <Tick control={<input type="checkbox" name="hasNewLevel" />}>{act.newLevel}</Tick>
              ) : null}
            </EntryForm>
          </>
        ) : (
          <EntryForm
            action={reopenCaseAction}
            submit={act.reopen}
            done={act.reopened}
            kind="plain"
            fields={[hidden, { name: "reason", label: act.reason }]}
          />
        )}
      </div>
    </Sheet>
  );
}
