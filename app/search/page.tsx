import type { Metadata } from "next";
import Link from "next/link";
import { redirect } from "next/navigation";
import { z } from "zod";
import { formatCounted } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { searchEverything } from "@/lib/server/frames/queries";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../_components/work-page";
import styles from "./search.module.css";

export const metadata: Metadata = { title: "Search" };

const searchSchema = z.object({ q: z.string().max(100).catch("") });

export default async function SearchPage({ searchParams }: PageProps<"/search">) {
  const { q } = searchSchema.parse({ q: "", ...(await searchParams) });
  const viewer = await requireViewer(`/search?q=${encodeURIComponent(q)}`);
  const hits = mayDo(viewer, "records.view") ? await searchEverything(viewer, q) : [];
  const exact = hits.find((hit) => hit.kind === "frame" && hit.label.toLowerCase() === q.trim().toLowerCase());
  if (exact) redirect(exact.href);
  return (
    <WorkPage viewer={viewer} query={q}>
      <PageFrame head={<PageHead title={q.trim() === "" ? "What are you looking for?" : `Found for "${q}"`} />}>
        {hits.length === 0 ? (
          <EmptyState title={q.trim() === "" ? "Type a serial, a batch or a stream" : "Nothing has this in its name"}>
            Three characters of the name are enough, as 044, PM-26 or bore mean; one or two find what begins with them.
          </EmptyState>
        ) : (
          <>
            <SectionHeading aside="at most 20 of a kind; type more of the name to narrow it">
              {formatCounted(hits.length, "hit")}
            </SectionHeading>
            <ul className={styles.hits}>
              {hits.map((hit) => (
                <li key={hit.href}>
                  <Link href={hit.href} className={hit.kind === "stream" ? undefined : "mono"}>
                    {hit.label}
                  </Link>
                  <span>{hit.detail.replaceAll("_", " ")}</span>
                </li>
              ))}
            </ul>
          </>
        )}
      </PageFrame>
    </WorkPage>
  );
}
