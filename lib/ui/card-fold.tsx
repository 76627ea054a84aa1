"use client";

import { useState, type ReactNode } from "react";
import { Button } from "./button";
import styles from "./table.module.css";
import { UI_WORDS } from "./words";

const words = UI_WORDS.cardFold;

/** A table that on a phone shows its first rows as cards, and the others once they are asked for. */
export function CardFold({ later, all, children }: Readonly<{ later: number; all: number; children: ReactNode }>) {
  const [isFolded, setFolded] = useState(later > 0);
  return (
    <div className={isFolded ? styles.folded : undefined}>
      {children}
      {isFolded ? (
        <p className={styles.showAll}>
          <Button size="touch" wide onClick={() => setFolded(false)}>
            {words.showAll(all)}
          </Button>
        </p>
      ) : null}
    </div>
  );
}
