import { PageFrame } from "./page-frame";
import styles from "./notice.module.css";

/** While a page's data are fetched: says what is coming, moves nothing. */
export function PageLoading({ what }: Readonly<{ what: string }>) {
  return (
    <PageFrame>
      <p className={`${styles.line} ${styles.loading}`} role="status">
        Fetching {what}
      </p>
    </PageFrame>
  );
}
