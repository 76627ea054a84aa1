import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { formatStreamValue, streamName } from "@/lib/format/stream-words";
import type { StreamPage } from "@/lib/server/drift/queries";
import { DataTable } from "@/lib/ui/data-table";
import type { StreamReading } from "./stream-reading";
import { STREAM_WORDS } from "../../words";

const words = STREAM_WORDS.points;

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
  const flagOf = (inspectionId: string): string => {
    const flag = reading.flags.get(inspectionId);
    return flag === undefined ? "" : flag === null ? words.outside : words.ofCase(flag);
  };
  const shown = stream.points.map((point, index) => ({ point, number: reading.numberOf(index) })).slice(-TABLE_ROWS);
  return (
    <section>
      <DataTable
        caption={words.newestPoints}
        rowHead="serial"
        columns={[
          { key: "frame", label: words.frame, kind: "numeric", cell: ({ number }) => String(number) },
          {
            key: "serial",
            label: words.serial,
            kind: "code",
            cell: ({ point }) => <Link href={`/frames/${encodeURIComponent(point.serial)}`}>{point.serial}</Link>,
          },
          {
            key: "value",
            label: streamName(stream.feature),
            kind: "numeric",
            cell: ({ point }) => formatStreamValue(point.value, stream.feature),
          },
          { key: "verdict", label: words.verdictOfFrame, cell: ({ point }) => point.verdict },
          { key: "case", label: words.case, cell: ({ point }) => flagOf(point.inspectionId) },
          { key: "tool", label: words.reamer, kind: "code", cell: ({ point }) => point.tool ?? "" },
          { key: "fixture", label: words.fixture, kind: "code", cell: ({ point }) => point.fixture ?? "" },
          { key: "at", label: words.measured, cell: ({ point }) => formatMoment(point.at, { zone }) },
        ]}
        rows={shown.toReversed()}
        rowKey={({ point }) => point.inspectionId}
        count={words.ofShown(shown.length, stream.points.length)}
        {...(mayExport ? { csvHref: `/drift/streams/${stream.id}/points?frames=${frames}` } : {})}
      />
    </section>
  );
}
