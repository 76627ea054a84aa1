"use client";

import { useState } from "react";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import styles from "./keying.module.css";

type RemarkDialogProps = Readonly<{ remark: string; onKeep: (remark: string) => void; onClose: () => void }>;

export function RemarkDialog({ remark, onKeep, onClose }: RemarkDialogProps) {
  const [text, setText] = useState(remark);
  return (
    <Dialog
      open
      title="Remark"
      onClose={onClose}
      keys={
        <>
          <Button kind="go" size="touch" onClick={() => onKeep(text)}>
            Keep remark
          </Button>
          <Button size="touch" onClick={onClose}>
            Back
          </Button>
        </>
      }
    >
      <label className={styles.remark}>
        What else is to be said about this frame
        <textarea rows={4} maxLength={2000} value={text} autoFocus onChange={(event) => setText(event.target.value)} />
      </label>
    </Dialog>
  );
}
