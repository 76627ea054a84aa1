import type { Metadata } from "next";
import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { listStudies } from "@/lib/server/gauges/studies";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import styles from "../gauges.module.css";
import { STUDY_WORDS } from "../words";

const words = STUDY_WORDS.list;

export const metadata: Metadata = { title: words.title };

export default async function StudiesPage() {
  const viewer = await requireViewer("/gauges/studies", "gauges.view");
  const studies = await listStudies(viewer);
  return (
    <WorkPage viewer={viewer} current="gauges">
      <PageFrame
        head={
          <PageHead
            title={words.title}
            lead={words.lead}
            status={
              <span className={styles.links}>
                {mayDo(viewer, "gauges.manage") ? <Link href="/gauges/studies/new">{words.plan}</Link> : null}
                <Link href="/gauges">{words.all}</Link>
              </span>
            }
          />
        }
      >
        <DataTable
          caption={words.title}
          captionHidden
          rowHead="study"
          columns={[
            {
              key: "study",
              label: words.study,
              cell: ({ id, title }) => <Link href={`/gauges/studies/${id}`}>{title}</Link>,
            },
            { key: "gauge", label: words.gauge, kind: "code", cell: ({ gauge }) => gauge },
            { key: "keyed", label: words.keyed, cell: ({ keyed, asked }) => words.of(keyed, asked) },
            { key: "planned", label: words.planned, cell: ({ at }) => formatDay(at, { zone: viewer.plantZone }) },
          ]}
          rows={studies}
          rowKey={({ id }) => id}
          empty={<EmptyState title={words.none}>{words.tenByThree}</EmptyState>}
        />
      </PageFrame>
    </WorkPage>
  );
}
