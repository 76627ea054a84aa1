import type { Metadata } from "next";
import Link from "next/link";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { type EscapeItem, listClosedEscapes, listEscapes } from "@/lib/server/gate/escapes";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { GATE_WORDS } from "../words";
import { CloseEscapesForm } from "./_components/close-escapes-form";
import styles from "./escapes.module.css";

const words = GATE_WORDS.escapes;

export const metadata: Metadata = { title: words.title };

type EscapeGroup = Readonly<{ key: string; reason: string; openedAt: string; escapes: readonly EscapeItem[] }>;

/** Escapes with one reason, opened in one act, are one thing to deal with. */
function groupsOf(escapes: readonly EscapeItem[]): readonly EscapeGroup[] {
  const groups = new Map<string, EscapeItem[]>();
  for (const escape of escapes) {
    const key = `${escape.openedAt} ${escape.reason}`;
    groups.set(key, [...(groups.get(key) ?? []), escape]);
  }
  return [...groups].flatMap(([key, [first, ...others]]) =>
    first === undefined ? [] : [{ key, reason: first.reason, openedAt: first.openedAt, escapes: [first, ...others] }],
  );
}

function columnsOf(zone: string): readonly TableColumn<EscapeItem>[] {
  return [
    {
      key: "frame",
      label: words.frame,
      kind: "code",
      cell: ({ serial }) => <Link href={`/frames/${encodeURIComponent(serial)}`}>{serial}</Link>,
    },
    {
      key: "batch",
      label: words.batch,
      kind: "code",
      cell: ({ batch }) => (
        <Link href={`/gate/batches/${encodeURIComponent(batch)}`} prefetch={false}>
          {batch}
        </Link>
      ),
    },
    { key: "supplier", label: words.supplier, cell: ({ supplier }) => supplier },
    {
      key: "shipped",
      label: words.shipped,
      cell: ({ shippedAt }) => keepWhole(shippedAt === null ? words.nobodyKnows : formatMoment(shippedAt, { zone })),
    },
    { key: "by", label: words.by, cell: ({ shippedBy }) => shippedBy ?? words.nobodyKnows },
  ];
}

export default async function EscapesPage() {
  const viewer = await requireViewer("/gate/escapes", "gate.view");
  const [escapes, closed] = await Promise.all([listEscapes(viewer), listClosedEscapes(viewer)]);
  const { plantZone: zone } = viewer;
  const groups = groupsOf(escapes);
  const frames = new Set(escapes.map(({ serial }) => serial)).size;
  return (
    <WorkPage viewer={viewer} current="gate">
      <PageFrame
        head={
          <PageHead
            title={words.headline(frames)}
            lead={words.lead}
            status={<ButtonLink href="/gate">{words.backToGate}</ButtonLink>}
          />
        }
      >
        {groups.length > 0 ? <p className={styles.caution}>{words.whatToDo}</p> : null}
        {groups.map((group) => (
          <section key={group.key}>
            <SectionHeading aside={words.framesOf(group.escapes.length)}>
              {keepWhole(words.openedOn(formatDay(group.openedAt, { zone })))}
            </SectionHeading>
            <p className={styles.reason}>{keepWhole(group.reason)}</p>
            <DataTable
              caption={group.reason}
              captionHidden
              rowHead="frame"
              columns={columnsOf(zone)}
              rows={group.escapes}
              rowKey={({ id }) => id}
            />
          </section>
        ))}
        {groups.length === 0 ? null : mayDo(viewer, "gate.decide") ? (
          <Sheet decision label={words.closing}>
            <CloseEscapesForm
              groups={groups.map(({ key, reason, openedAt, escapes: own }) => ({
                key,
                label: `${formatDay(openedAt, { zone })}, ${words.framesOf(own.length)}: ${reason}`,
                escapes: own.map(({ id }) => id),
              }))}
            />
          </Sheet>
        ) : (
          <p className="soft">{words.mayNotClose}</p>
        )}
        {closed.length > 0 ? (
          <>
            <SectionHeading>{words.closedSoFar}</SectionHeading>
            <ul className={styles.closed}>
              {closed.map((act) => (
                <li key={act.id}>
                  <span className="mono">{keepWhole(act.serials.join(" "))}</span>: {keepWhole(act.grounds)}
                  <small>
                    {words.told(act.told)}; {act.person}, {keepWhole(formatMoment(act.at, { zone }))}
                  </small>
                </li>
              ))}
            </ul>
          </>
        ) : null}
      </PageFrame>
    </WorkPage>
  );
}
