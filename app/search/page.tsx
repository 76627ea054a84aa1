import type { Metadata } from "next";
import Link from "next/link";
import { redirect } from "next/navigation";
import { z } from "zod";
import { mayDo } from "@/lib/server/auth/permissions";
import { searchEverything } from "@/lib/server/frames/queries";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../_components/work-page";
import { SEARCH_WORDS } from "./words";
import styles from "./search.module.css";

const words = SEARCH_WORDS.found;

export const metadata: Metadata = { title: words.search };

const searchSchema = z.object({ q: z.string().max(100).catch("") });

export default async function SearchPage({ searchParams }: PageProps<"/search">) {
  const { q } = searchSchema.parse({ q: "", ...(await searchParams) });
  const viewer = await requireViewer(`/search?q=${encodeURIComponent(q)}`);
  const hits = mayDo(viewer, "records.view") ? await searchEverything(viewer, q) : [];
  const exact = hits.find((hit) => hit.kind === "frame" && hit.label.toLowerCase() === q.trim().toLowerCase());
  if (exact) redirect(exact.href);
  return (
    <WorkPage viewer={viewer} query={q}>
      <PageFrame head={<PageHead title={q.trim() === "" ? words.whatAreYouLookingFor : words.foundFor(q)} />}>
        {hits.length === 0 ? (
          <EmptyState title={q.trim() === "" ? words.typeSerial : words.nothingHasInName}>
            {words.threeCharactersOfName}
          </EmptyState>
        ) : (
          <>
            <SectionHeading aside={words.atMost20OfKind}>{words.hits(hits.length)}</SectionHeading>
            <ul className={styles.hits}>
              {hits.map((hit) => (
                <li key={`${hit.href} ${hit.label} ${hit.detail}`}>
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
