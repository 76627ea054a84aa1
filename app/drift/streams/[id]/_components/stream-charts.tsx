import { findingHeadline, streamTitle, streamUnit } from "@/lib/format/stream-words";
import { formatCounted, unitText } from "@/lib/format/number-text";
import type { StreamPage } from "@/lib/server/drift/queries";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import styles from "../stream.module.css";
import { streamFigures } from "./stream-figures";
import type { StreamReading } from "./stream-reading";
import { SuspectRow } from "./suspect-row";

/** The charts of a stream under each other, on one axis of frames. */
export function StreamCharts({
  stream,
  reading,
  zone,
  nearLimits,
  frames,
  mayExport,
}: Readonly<{
  stream: StreamPage;
  reading: StreamReading;
  zone: string;
  nearLimits: boolean;
  frames: number;
  mayExport: boolean;
}>) {
  const figures = streamFigures(stream, reading, { zone, nearLimits });
  const name = `${stream.line}-${stream.feature}`;
  const headline = findingHeadline(reading.finding, stream.feature, reading.numberOf);
  const flagged = stream.signals.filter((signal) => signal.state === "open").length;
  const alternative = `${headline.replace(/^[a-z]/, (letter) => letter.toUpperCase())}. ${formatCounted(stream.points.length, "frame")} shown, ${formatCounted(flagged, "open signal")}.`;
  return (
    <div className={styles.charts}>
      <ChartCanvas
        spec={figures.main}
        title={streamTitle(stream.feature)}
        finding={stream.kind === "individuals" ? "each point one frame; individuals chart" : "each point one frame"}
        alternative={alternative}
        fileName={name}
        mayExport={mayExport}
        csvHref={`/drift/streams/${stream.id}/points?frames=${frames}`}
      />
      {figures.movingRange ? (
        <ChartCanvas
          spec={figures.movingRange}
          title="Moving range, µm"
          finding="from frame to frame"
          alternative="Differences of neighbouring frames against their limit."
          size="small"
          fileName={`${name}-moving-range`}
          mayExport={mayExport}
          tools={false}
        />
      ) : null}
      {figures.average ? (
        <ChartCanvas
          spec={figures.average}
          title={`Weighted mean, ${unitText(streamUnit(stream.feature).unit)}`}
          finding="each new frame counts a quarter; finds small growth"
          alternative="Weighted mean of the last 20 frames against its limit."
          size="small"
          fileName={`${name}-weighted-mean`}
          mayExport={mayExport}
          tools={false}
        />
      ) : null}
      {figures.spread ? (
        <ChartCanvas
          spec={figures.spread}
          title="Spread within the bore, µm"
          finding="largest minus smallest diameter of each frame"
          alternative="Range of the diameters within one bore against its limit."
          size="small"
          fileName={`${name}-spread`}
          mayExport={mayExport}
          tools={false}
        />
      ) : null}
      <SuspectRow suspects={reading.suspects} />
    </div>
  );
}
