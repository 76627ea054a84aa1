"use client";

import { createContext, useContext } from "react";
import styles from "./work-area-rail.module.css";

/** Who is signed in now, where a page was kept on the device and may name somebody from before; null where the page knows. */
export const SignedInNow = createContext<string | null>(null);

/** The name on the rail: the page's own, or who has signed in since it was kept. */
export function SignedIn({ name, role }: Readonly<{ name: string; role: string }>) {
  const now = useContext(SignedInNow);
  if (now !== null && now !== name) return <span>{now}</span>;
  return (
    <span>
      {name}
      <span className={styles.role}>, {role}</span>
    </span>
  );
}
