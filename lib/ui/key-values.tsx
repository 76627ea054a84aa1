import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import styles from "./table.module.css";

export type KeyValue = Readonly<{ label: string; note?: ReactNode; value: ReactNode }>;

/** Names at the left, values at the right, a hairline under each. */
export function KeyValues({ pairs }: Readonly<{ pairs: readonly KeyValue[] }>) {
  return (
    <dl className={styles.pairs}>
      {pairs.map((pair) => (
        <div key={pair.label}>
          <dt>
            {pair.label} {pair.note ? <small>{keepWhole(pair.note)}</small> : null}
          </dt>
          <dd>{keepWhole(pair.value)}</dd>
        </div>
      ))}
    </dl>
  );
}
