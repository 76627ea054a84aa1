import type { ReactNode } from "react";
import styles from "./filter-nav.module.css";

type FilterNavProps = Readonly<{
  /** "Filter by state": what a screen reader says. */
  label: string;
  /** No room above, under a lead that brings its own. */
  flush?: boolean;
  /** Links; the one in force carries aria-current="page", a count stands in small. */
  children: ReactNode;
}>;

/** Links that narrow a list down, in one line while there is room. */
export function FilterNav({ label, flush = false, children }: FilterNavProps) {
  return (
    <nav className={flush ? `${styles.nav} ${styles.flush}` : styles.nav} aria-label={label}>
      {children}
    </nav>
  );
}
