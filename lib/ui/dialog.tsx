"use client";

import { useEffect, useId, useRef, type ReactNode } from "react";
import styles from "./dialog.module.css";

type DialogProps = Readonly<{
  open: boolean;
  title: string;
  children: ReactNode;
  /** The buttons: what to do first, how to leave last. */
  keys?: ReactNode;
  /** Asked for by Escape or a key of the caller. */
  onClose: () => void;
}>;

/** A question that has to be answered before going on; the browser keeps focus inside and Escape leaves. */
export function Dialog({ open, title, children, keys, onClose }: DialogProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  const titleId = useId();
  useEffect(() => {
    const element = dialog.current;
    if (!element) return;
    if (open && !element.open) element.showModal();
    if (!open && element.open) element.close();
  }, [open]);
  return (
    <dialog
      ref={dialog}
      className={styles.dialog}
      aria-labelledby={titleId}
      onCancel={(event) => {
        event.preventDefault();
        onClose();
      }}
    >
      <h2 id={titleId} className={styles.title}>
        {title}
      </h2>
      <div className={styles.body}>{children}</div>
      {keys ? <div className={styles.keys}>{keys}</div> : null}
    </dialog>
  );
}
