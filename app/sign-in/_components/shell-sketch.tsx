import { SIGN_IN_WORDS } from "../words";
import styles from "../sign-in.module.css";

const words = SIGN_IN_WORDS.sketch;

const CLOCK = Array.from({ length: 12 }, (_, hour) => (hour * Math.PI) / 6);
const HATCH = Array.from({ length: 52 }, (_, line) => line * 12 - 270);

/** A shell in section along its axis and its drive-side face: what the program is about, as a drawing. */
export function ShellSketch() {
  return (
    <svg className={styles.sketch} viewBox="0 0 420 520" aria-hidden="true">
      <defs>
        <clipPath id="walls">
          <path d="M60 300h300v34h-58v8h-184v-8h-58zM60 446h58v-8h184v8h58v34H60z" />
        </clipPath>
      </defs>
      <g className={styles.thin}>
        {CLOCK.map((angle) => (
          <line
            key={angle}
            x1={210 + 96 * Math.sin(angle)}
            y1={140 - 96 * Math.cos(angle)}
            x2={210 + 104 * Math.sin(angle)}
            y2={140 - 104 * Math.cos(angle)}
          />
        ))}
        <path d="M210 14v252M84 140h252" strokeDasharray="22 4 4 4" />
        <path d="M30 390h360" strokeDasharray="22 4 4 4" />
        <path d="M118 290v-20M302 290v-20M60 290v-20M360 290v-20M60 276h300" />
        <path d="M60 276l9-3v6zM360 276l-9-3v6z" className={styles.arrow} />
      </g>
      <g clipPath="url(#walls)" className={styles.thin}>
        {HATCH.map((x) => (
          <path key={x} d={`M${x + 40} 490l200 -200`} />
        ))}
      </g>
      <g className={styles.outline}>
        <circle cx="210" cy="140" r="88" />
        <circle cx="210" cy="140" r="66" />
        <path d="M60 300h300v34h-58v8h-184v-8h-58zM60 446h58v-8h184v8h58v34H60z" />
        <path d="M60 334v112M360 334v112M118 342v96M302 342v96" />
      </g>
      <g className={styles.asked}>
        <path d="M89 334v112" />
        <path d="M89 334l-4 11h8zM89 446l-4 -11h8z" />
        <path d="M163.3 93.3l93.4 93.4" />
      </g>
      <g className={styles.lettering}>
        <text x="210" y="10" textAnchor="middle">
          12
        </text>
        <text x="346" y="144">
          3
        </text>
        <text x="76" y="144" textAnchor="end">
          9
        </text>
        <text x="210" y="268" textAnchor="middle" className={styles.over}>
          {words.width}
        </text>
        <text x="62" y="508">
          {words.nds}
        </text>
        <text x="358" y="508" textAnchor="end">
          {words.ds}
        </text>
      </g>
    </svg>
  );
}
