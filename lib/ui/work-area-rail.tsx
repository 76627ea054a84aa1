import Link from "next/link";
import type { ReactNode } from "react";
import { SearchField } from "./search-field";
import { SignedIn } from "./signed-in";
import type { Theme } from "./theme";
import { ThemeChoice } from "./theme-choice";
import { UI_WORDS } from "./words";
import styles from "./work-area-rail.module.css";
import type { WorkArea, WorkAreaKey } from "./work-areas";

const words = UI_WORDS.workAreaRail;

type WorkAreaRailProps = Readonly<{
  current?: WorkAreaKey;
  /** Who is signed in, and as what; without it the rail shows the areas only. */
  person?: { readonly name: string; readonly role: string };
  theme: Theme;
  /** Which areas are shown, in their order. */
  areas: readonly WorkArea[];
  /** What was searched for, on the page of results. */
  query?: string;
  /** The messages that wait. */
  messages?: ReactNode;
  /** The form that signs out. */
  signOut?: ReactNode;
}>;

export function WorkAreaRail({ current, person, theme, areas, query, messages, signOut }: WorkAreaRailProps) {
  return (
    <nav className={styles.rail} aria-label={words.workAreas}>
      <Link className={styles.brand} href="/">
        {words.shellgate}
      </Link>
      <ul className={styles.areas}>
        {areas.map((area) => (
          <li key={area.key}>
            <Link className={styles.area} href={area.href} aria-current={area.key === current ? "page" : undefined}>
              {area.name}
            </Link>
          </li>
        ))}
      </ul>
      <SearchField query={query} />
      {messages}
      <details className={styles.who}>
        <summary>
          {person ? <SignedIn name={person.name} role={person.role} /> : <span>{words.settings}</span>}
          <svg viewBox="0 0 10 7" aria-hidden="true">
            <path d="M1 1l4 4 4-4" fill="none" stroke="currentColor" strokeWidth="1.4" />
          </svg>
        </summary>
        <div className={styles.panel}>
          <ThemeChoice initial={theme} />
          {signOut}
        </div>
      </details>
    </nav>
  );
}
