import { useId } from "react";
import { layoutDeviationBar, type DeviationBarInput } from "@/lib/charts/deviation-bar";
import { formatLimits, formatValue } from "@/lib/format/number-text";
import { UI_WORDS } from "./words";
import styles from "./deviation-bar.module.css";

const words = UI_WORDS.deviationBar;

const WIDTH = 432;
const BASE_Y = 60;

type DeviationBarProps = Readonly<Omit<DeviationBarInput, "widthPx">>;

/** Where the reading lies against its limits, with the readings kept before and the zones in which neither is proven. */
export function DeviationBar(props: DeviationBarProps) {
  const bar = layoutDeviationBar({ ...props, widthPx: WIDTH });
  const id = `guard${useId().replace(/[^a-zA-Z0-9]/g, "")}`;
  const read = props.value === null ? words.noReadingYet : words.reading(formatValue(props.value, props.unit, props));
  return (
    <svg
      className={styles.bar}
      viewBox={`0 0 ${WIDTH} 98`}
      role="img"
      aria-label={words.limits(formatLimits(props.lower, props.upper, props.unit, props), read)}
    >
      <defs>
        <pattern id={id} width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path d="M0 0v5" stroke="var(--maybe)" strokeWidth="1.6" />
        </pattern>
      </defs>
      {bar.zones.map((zone) => (
        <rect key={zone.x} x={zone.x} y="34" width={zone.width} height="26" fill={`url(#${id})`} opacity="0.8" />
      ))}
      <path className={styles.base} d={`M0 ${BASE_Y}H${WIDTH}`} />
      {bar.ticks.map((tick) => (
        <path key={tick.x} className={styles.tick} d={`M${tick.x} ${BASE_Y}v${tick.long ? 8 : 5}`} />
      ))}
      {bar.target ? (
        <>
          <path className={styles.tick} d={`M${bar.target.x} 44V66`} />
          <text className={styles.softText} x={bar.target.x} y="92" textAnchor="middle" fontSize="18">
            {bar.target.text}
          </text>
        </>
      ) : null}
      {bar.limits.map((limit) => (
        <g key={limit.x}>
          <path className={styles.limit} d={`M${limit.x} 20V74`} />
          <text className={styles.limitText} x={limit.x} y="92" textAnchor="middle" fontSize="18">
            {limit.valueText}
          </text>
          {limit.fits ? (
            <text className={styles.softText} x={limit.x} y="14" textAnchor="middle" fontSize="16">
              {limit.deviationText}
            </text>
          ) : (
            <text className={styles.softText} x={limit.x} y="14" textAnchor="middle" fontSize="16">
              {words.limit}
            </text>
          )}
        </g>
      ))}
      {bar.zoneWordX === null ? null : (
        <text className={styles.softText} x={bar.zoneWordX} y="14" textAnchor="middle" fontSize="16">
          {words.hatchedNotProven}
        </text>
      )}
      {bar.rings.map((x, index) => (
        <circle key={`${index} ${x}`} className={styles.ring} cx={x} cy="47" r="5.5" />
      ))}
      {bar.value ? <Pointer {...bar.value} /> : null}
    </svg>
  );
}

function Pointer({ x, beyond }: Readonly<{ x: number; beyond: "left" | "right" | null }>) {
  if (beyond) {
    const sign = beyond === "left" ? -1 : 1;
    return (
      <path className={styles.pointer} d={`M${x + sign * 6} 40l${-sign * 18} -13v8h${-sign * 16}v10h${sign * 16}v8z`} />
    );
  }
  return <path className={styles.pointer} d={`M${x} ${BASE_Y}l-13 -26v-14h26v14z`} />;
}
