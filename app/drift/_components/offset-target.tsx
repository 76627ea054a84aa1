import type { OffsetVector } from "@/lib/core/capability/offset-capability";
import { clockNumerals } from "@/lib/charts/clock-face";
import { layoutTarget } from "@/lib/charts/target-layout";
import { formatSideOfView } from "@/lib/format/clock-text";
import styles from "./offset-target.module.css";

const SIZE = 168;

type OffsetTargetProps = Readonly<{
  zoneUm: number;
  before: readonly OffsetVector[];
  since: readonly OffsetVector[];
  /** Mean of the frames since. */
  mean: OffsetVector;
  /** The finding in words, for those who do not see it. */
  alternative: string;
}>;

const vector = ([towards12Um, towards3Um]: OffsetVector) => ({ towards12Um, towards3Um });

/** Where the NDS axis lay before a change and lies since, from the end of the bore, small. */
export function OffsetTarget({ zoneUm, before, since, mean, alternative }: OffsetTargetProps) {
  const plot = layoutTarget({
    side: "ds",
    sizePx: SIZE,
    zoneUm,
    baseline: before.map(vector),
    recent: since.map((one, at) => ({ ...vector(one), serial: String(at) })),
    mean: { ...vector(mean), circleUm: null },
    ellipse: null,
    adviseMove: false,
  });
  const { face } = plot;
  return (
    <figure className={styles.target}>
      <svg viewBox={`0 0 ${SIZE} ${SIZE}`} role="img" aria-label={alternative}>
        <circle className={styles.ring} cx={face.cx} cy={face.cy} r={plot.boreRadius} />
        <path
          className={styles.axis}
          d={`M${face.cx - plot.boreRadius} ${face.cy}h${2 * plot.boreRadius}M${face.cx} ${face.cy - plot.boreRadius}v${2 * plot.boreRadius}`}
        />
        <circle className={styles.limit} cx={face.cx} cy={face.cy} r={plot.limitRadius} />
        <path className={styles.before} d={plot.baselineDots} />
        <path className={styles.since} d={plot.insideDots} />
        {plot.outside.map(({ serial, x, y }) => (
          <circle key={serial} className={styles.outside} cx={x} cy={y} r="2.4" />
        ))}
        {plot.mean === null ? null : (
          <path className={styles.move} d={`M${face.cx} ${face.cy}L${plot.mean.x} ${plot.mean.y}`} />
        )}
        {clockNumerals(face, plot.numeralRadius)
          .filter(({ quarter }) => quarter)
          .map(({ hour, x, y }) => (
            <text key={hour} x={x} y={y + 4} textAnchor="middle" fontSize="12">
              {hour}
            </text>
          ))}
      </svg>
      <figcaption>{formatSideOfView("ds")}</figcaption>
    </figure>
  );
}
