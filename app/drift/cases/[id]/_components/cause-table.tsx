import { causeName, causeWhy, evidenceWords } from "@/lib/format/case-words";
import type { RankedCause } from "@/lib/quality/cases/case";
import { type CauseFacts, causeFacts, type TopicFacts, topicsOf } from "@/lib/quality/cases/cause-facts";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { SectionHeading } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import { CASE_WORDS } from "../../words";
import styles from "../../cases.module.css";

const words = CASE_WORDS.causes;

const nameOf = ({ cause, subject }: RankedCause) => `${causeName(cause)}${subject === null ? "" : `, ${subject}`}`;

function Facts({ facts }: Readonly<{ facts: TopicFacts }>) {
  if (facts.says === "nothing") return <span className={styles.nothing}>{words.says.nothing}</span>;
  return (
    <ul className={styles.facts}>
      {facts.evidence.map((one) => (
        <li key={evidenceWords(one)}>
          <b className={one.isFor ? "okText" : "noText"}>{one.isFor ? words.says.for : words.says.against}</b>{" "}
          {keepWhole(evidenceWords(one))}
        </li>
      ))}
    </ul>
  );
}

function columnsFor(causes: readonly RankedCause[]): readonly TableColumn<CauseFacts>[] {
  const topics = topicsOf(causes);
  return [
    { key: "cause", label: words.cause, cell: ({ cause }) => nameOf(cause) },
    ...topics.map((topic): TableColumn<CauseFacts> => ({
      key: topic,
      label: words.topics[topic],
      cell: (row) => <Facts facts={row.topics[topic]} />,
    })),
    {
      key: "isFor",
      label: words.isFor,
      cell: ({ isFor }) => <span className="nowrap">{words.ofTopics(isFor, topics.length)}</span>,
    },
  ];
}

const excludedColumns: readonly TableColumn<RankedCause>[] = [
  { key: "cause", label: words.cause, cell: nameOf },
  { key: "why", label: words.why, cell: (one) => causeWhy(one) },
];

/** Causes with the facts for and against each; those that the readings exclude stand folded below, with why. */
export function CauseTable({ causes }: Readonly<{ causes: readonly RankedCause[] }>) {
  const possible = causes.filter(({ lnOdds }) => lnOdds !== null);
  const excluded = causes.filter(({ lnOdds }) => lnOdds === null);
  return (
    <section>
      <SectionHeading aside={words.aside}>{words.heading}</SectionHeading>
      <DataTable
        caption={words.table}
        captionHidden
        rowHead="cause"
        rows={causeFacts(possible)}
        rowKey={({ cause }) => cause.cause}
        columns={columnsFor(possible)}
      />
      {excluded.length === 0 ? null : (
        <details className={styles.fold}>
          <summary>{words.excluded(excluded.length)}</summary>
          <DataTable
            caption={words.excludedTable}
            captionHidden
            rowHead="cause"
            rows={excluded}
            rowKey={({ cause }) => cause}
            columns={excludedColumns}
          />
        </details>
      )}
    </section>
  );
}
