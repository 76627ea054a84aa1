import { ZERO_CHECK_WORDS } from "../../words/zero-check";
import styles from "./zero-check.module.css";

const words = ZERO_CHECK_WORDS.drawing;

type RingDrawingProps = Readonly<{ ring: string; size: string; allowed: string }>;

/** The setting ring in section with its certified size, and what the gauge may show in it. */
export function RingDrawing({ ring, size, allowed }: RingDrawingProps) {
  return (
    <svg className={styles.ring} viewBox="0 0 460 330" role="img" aria-label={words.settingRing(ring, size, allowed)}>
      <defs>
        <pattern id="ring-hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path d="M0 0v8" stroke="var(--hair)" strokeWidth="1.4" />
        </pattern>
      </defs>
      <g transform="translate(230 158)">
        <path
          d="M-134 0a134 134 0 1 0 268 0a134 134 0 1 0 -268 0M-94 0a94 94 0 1 1 188 0a94 94 0 1 1 -188 0"
          fill="url(#ring-hatch)"
          fillRule="evenodd"
          stroke="var(--ink)"
          strokeWidth="1.8"
        />
        <path d="M-152 0H152M0 -152V152" stroke="var(--ink-3)" strokeWidth="0.8" strokeDasharray="14 4 3 4" />
        <path d="M-94 0H94" stroke="var(--blue)" strokeWidth="5" />
        <path d="M-94 0l16 -7v14zM94 0l-16 -7v14z" fill="var(--blue)" />
        <text x="0" y="-16" textAnchor="middle" fontSize="24" className={styles.ringSize}>
          {words.mark(size)}
        </text>
        <text x="0" y="34" textAnchor="middle" fontSize="18">
          {ring}
        </text>
      </g>
      <text x="230" y="322" textAnchor="middle" fontSize="17" className={styles.ringNote}>
        {words.gaugeMayShow(allowed)}
      </text>
    </svg>
  );
}
