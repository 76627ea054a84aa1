import type { Metadata } from "next";
import { getInstallation } from "@/lib/server/installation/examine";
import { keepWhole } from "@/lib/ui/keep-whole";
import { DataTable } from "@/lib/ui/data-table";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer } from "../../_components/work-page";
import { SetupPage } from "../_components/setup-page";
import { ABOUT_WORDS as words } from "../words/about";
import styles from "./about.module.css";

export const metadata: Metadata = { title: words.title };

const MARKS = { wrong: "stop", remark: "signal", good: "go" } as const;

export default async function AboutPage() {
  const viewer = await requireViewer("/setup/about", "backups.view");
  const findings = await getInstallation(viewer);
  const count = findings.filter(({ state }) => state === "wrong").length;
  return (
    <SetupPage
      viewer={viewer}
      current="about"
      title={count === 0 ? words.allWell : words.wrong(count)}
      lead={words.lead}
    >
      <SectionHeading>{words.heading}</SectionHeading>
      <DataTable
        caption={words.heading}
        captionHidden
        rowHead="subject"
        columns={[
          { key: "subject", label: words.subject, cell: ({ subject }) => subject },
          {
            key: "says",
            label: words.says,
            cell: ({ state, says }) => (
              <span className={styles.says}>
                <StateMark state={MARKS[state]} word={words.state[state]} size="s" /> {keepWhole(says)}
              </span>
            ),
          },
          {
            key: "todo",
            label: words.todo,
            cell: ({ todo }) => <span className={styles.says}>{keepWhole(todo ?? words.nothing)}</span>,
          },
        ]}
        rows={findings}
        rowKey={({ subject, says }) => `${subject} ${says}`}
      />
    </SetupPage>
  );
}
