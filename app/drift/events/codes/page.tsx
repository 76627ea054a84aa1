import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { EVENT_KINDS } from "@/lib/schemas/event";
import { environment } from "@/lib/server/base/env";
import { listEventLines } from "@/lib/server/events/queries";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { ScannedCode } from "@/lib/ui/scanned-code";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import styles from "../events.module.css";
import { EVENT_WORDS } from "../words";

const words = EVENT_WORDS.codePage;

export const metadata: Metadata = { title: EVENT_WORDS.codes };

const searchSchema = z.object({ line: z.string().max(64).optional().catch(undefined) });

export default async function EventCodesPage({
  searchParams,
}: Readonly<{ searchParams: Promise<Record<string, string | string[] | undefined>> }>) {
  const viewer = await requireViewer("/drift/events/codes", "drift.add-event");
  const { line } = searchSchema.parse(await searchParams);
  const lines = await listEventLines(viewer);
  const shown = lines.find(({ key }) => key === line) ?? lines[0];
  const origin = environment("SHELLGATE_ORIGIN");
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={shown === undefined ? EVENT_WORDS.codes : words.title(shown.key)}
            lead={words.lead}
            status={<Link href="/drift/events">{EVENT_WORDS.title}</Link>}
          />
        }
      >
        <FilterNav label={words.choose}>
          {lines.map(({ key }) => (
            <Link
              key={key}
              href={`/drift/events/codes?line=${encodeURIComponent(key)}`}
              aria-current={key === shown?.key ? "page" : undefined}
            >
              {key}
            </Link>
          ))}
        </FilterNav>
        <div className={styles.codes}>
          {shown === undefined
            ? null
            : EVENT_KINDS.map((kind) => {
                const address = `${origin}/drift/events?${new URLSearchParams({ line: shown.key, kind }).toString()}`;
                return (
                  <section key={kind} className={styles.code}>
                    <h2>{`${shown.key}: ${kind}`}</h2>
                    <ScannedCode text={address} label={words.code(kind, shown.key)} />
                    <p className="soft">{address}</p>
                  </section>
                );
              })}
        </div>
      </PageFrame>
    </WorkPage>
  );
}
