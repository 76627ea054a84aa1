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
          { key: "frame", label: "frame", kind: "numeric" },
          { key: "serial", label: "serial", kind: "code" },
          { key: "value", label: streamName(stream.feature), kind: "numeric" },
          { key: "verdict", label: "verdict of the frame" },
          { key: "signal", label: "signal" },
          { key: "tool", label: "reamer", kind: "code" },
          { key: "fixture", label: "fixture", kind: "code" },
          { key: "at", label: "measured" },
        ]}
        rows={shown.toReversed().map(({ point, number }) => ({
          key: point.inspectionId,
          cells: {
            frame: String(number),
            serial: <Link href={`/frames/${encodeURIComponent(point.serial)}`}>{point.serial}</Link>,
            value: formatStreamValue(point.value, stream.feature),
            verdict: point.verdict,
            signal: signals.get(point.inspectionId) ?? "",
            tool: point.tool ?? "",
            fixture: point.fixture ?? "",
            at: formatMoment(point.at, { zone }),
          },
        }))}
        count={`${shown.length} of ${formatCounted(stream.points.length, "frame")} shown`}
        {...(mayExport ? { csvHref: `/drift/streams/${stream.id}/points?frames=${frames}` } : {})}
      />
    </section>
  );
}
