import "server-only";
import { formatMoment } from "@/lib/format/date-text";
import type { OpenPaper } from "../pdf/open-document";
import { PAPER_WORDS } from "./words";

const { columns } = PAPER_WORDS;

type Done = {
  readonly at: Date | string;
  readonly kind: string;
  readonly subject: string | null;
  readonly text: string;
};

/** A section with what people did, oldest first; none where nothing was done. */
export function writeEventTable(paper: OpenPaper, title: string, events: readonly Done[], zone: string): void {
  if (events.length === 0) return;
  paper.section(title);
  paper.table(
    title,
    [
      { label: columns.when, share: 1.2 },
      { label: columns.what, share: 1 },
      { label: columns.which, share: 0.8, face: "code" },
      { label: columns.words, share: 2 },
    ],
    events.map(({ at, kind, subject, text }) => [formatMoment(at, { zone }), kind, subject ?? "", text]),
  );
}
