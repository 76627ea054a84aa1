import { schemeWords } from "@/lib/format/scheme-words";
import { standingHeadline } from "@/lib/format/standing-words";
import { streamTitle, streamUnit } from "@/lib/format/stream-words";
import { unitText } from "@/lib/format/number-text";
import type { StreamPage } from "@/lib/server/drift/queries";
import type { StreamScheme } from "@/lib/quality/alarm/stream-scheme";
import { keepWhole } from "@/lib/ui/keep-whole";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";
import { streamFigures } from "./stream-figures";
import type { StreamReading } from "./stream-reading";

const words = STREAM_WORDS.charts;

/** The charts of a stream under each other, on one axis of frames. */
export function StreamCharts({
  stream,
  reading,
  scheme,
  zone,
  nearLimits,
  frames,
  mayExport,
}: Readonly<{
  stream: StreamPage;
  reading: StreamReading;
  scheme: StreamScheme | null;
  zone: string;
  nearLimits: boolean;
  frames: number;
  mayExport: boolean;
}>) {
  const figures = streamFigures(stream, reading, { zone, nearLimits, scheme });
  const name = `${stream.line}-${stream.feature}`;
  const headline = standingHeadline(reading.standing, stream.feature, reading.numberOfRecent);
  const flagged = stream.points.filter(({ inspectionId }) => reading.flags.has(inspectionId)).length;
  const alternative = words.shown(
    headline.replace(/^[a-z]/, (letter) => letter.toUpperCase()),
    stream.points.length,
    flagged,
  );
  return (
    <div className={styles.charts}>
      <ChartCanvas
        spec={figures.main}
        title={streamTitle(stream.feature)}
        finding={stream.kind === "individuals" ? words.eachPointOneFrame : words.eachPointOneFrameLabel}
        alternative={alternative}
        fileName={name}
        mayExport={mayExport}
        csvHref={`/drift/streams/${stream.id}/points?frames=${frames}`}
      />
      <p className={styles.tested}>
        <b>{words.howItIsTested}</b> {keepWhole(schemeWords(scheme, stream.feature))}
      </p>
      {(figures.movingRange ?? figures.average ?? figures.spread) ? (
        <details className={styles.companions}>
          <summary>{words.companions}</summary>
          {figures.movingRange ? (
            <ChartCanvas
              spec={figures.movingRange}
              title={words.movingRangeUm}
              finding={words.fromFrameToFrame}
              alternative={words.differencesOfNeighbouringFrames}
              size="small"
              fileName={`${name}-moving-range`}
              mayExport={mayExport}
              tools={false}
            />
          ) : null}
          {figures.average ? (
            <ChartCanvas
              spec={figures.average}
              title={words.weightedMean(unitText(streamUnit(stream.feature).unit))}
              finding={words.eachNewFrameCountsQuarter}
              alternative={words.weightedMeanOfLast20}
              size="small"
              fileName={`${name}-weighted-mean`}
              mayExport={mayExport}
              tools={false}
            />
          ) : null}
          {figures.spread ? (
            <ChartCanvas
              spec={figures.spread}
              title={words.spreadWithinBoreUm}
              finding={words.largestMinusSmallestDiameter}
              alternative={words.rangeOfDiametersWithin}
              size="small"
              fileName={`${name}-spread`}
              mayExport={mayExport}
              tools={false}
            />
          ) : null}
        </details>
      ) : null}
    </div>
  );
}
