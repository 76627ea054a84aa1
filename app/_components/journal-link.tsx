import Link from "next/link";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { APP_WORDS } from "./words";

const words = APP_WORDS.journalLink;

/** Leads those who may look at the journal to the entries that name a record. */
export function JournalLink({
  viewer,
  name,
  from,
}: Readonly<{
  viewer: PersonViewer;
  /** Serial, key or name, as the entries have it. */
  name: string;
  /** First day that can have one, YYYY-MM-DD. */
  from?: string;
}>) {
  if (!mayDo(viewer, "journal.view")) return null;
  const search = new URLSearchParams({ q: name, ...(from === undefined ? {} : { from }) });
  return (
    <p className="noPrint">
      <Link href={`/setup/journal?${search}`}>{words.entriesOfJournal}</Link>
    </p>
  );
}
