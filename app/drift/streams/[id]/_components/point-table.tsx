import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
import { formatStreamValue, ruleWords, streamName } from "@/lib/format/stream-words";
import type { StreamPage } from "@/lib/server/drift/queries";
import { DataTable } from "@/lib/ui/data-table";
import type { StreamReading } from "./stream-reading";

/** Newest points in the table; the CSV has all that are shown. */
const TABLE_ROWS = 20;

/** The newest points as a table; each serial opens its frame's record. */
export function PointTable({
  stream,
  reading,
  zone,
  frames,
  mayExport,
}: Readonly<{ stream: StreamPage; reading: StreamReading; zone: string; frames: number; mayExport: boolean }>) {
  const signals = new Map<string, string>();
  for (const signal of stream.signals) signals.set(signal.inspectionId, ruleWords(signal.rule, signal.side));
  const shown = stream.points.map((point, index) => ({ point, number: reading.numberOf(index) })).slice(-TABLE_ROWS);
  return (
    <section>
      <DataTable
        caption="Newest points"
        rowHead="serial"
        columns={[
          { key: "frame", label: "frame", kind: "numeric", cell: ({ number }) => String(number) },
          {
            key: "serial",
            label: "serial",
            kind: "code",
            cell: ({ point }) => <Link href={`/frames/${encodeURIComponent(point.serial)}`}>{point.serial}</Link>,
          },
          {
            key: "value",
            label: streamName(stream.feature),
            kind: "numeric",
            cell: ({ point }) => formatStreamValue(point.value, stream.feature),
          },
          { key: "verdict", label: "verdict of the frame", cell: ({ point }) => point.verdict },
          { key: "signal", label: "signal", cell: ({ point }) => signals.get(point.inspectionId) ?? "" },
          { key: "tool", label: "reamer", kind: "code", cell: ({ point }) => point.tool ?? "" },
          { key: "fixture", label: "fixture", kind: "code", cell: ({ point }) => point.fixture ?? "" },
          { key: "at", label: "measured", cell: ({ point }) => formatMoment(point.at, { zone }) },
        ]}
        rows={shown.toReversed()}
        rowKey={({ point }) => point.inspectionId}
        count={`${shown.length} of ${formatCounted(stream.points.length, "frame")} shown`}
        {...(mayExport ? { csvHref: `/drift/streams/${stream.id}/points?frames=${frames}` } : {})}
      />
    </section>
  );
}
