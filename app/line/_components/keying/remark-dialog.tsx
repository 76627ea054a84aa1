"use client";

import { useState } from "react";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { KEYING_WORDS } from "../../words/keying";
import styles from "./keying.module.css";

const words = KEYING_WORDS.remark;

type RemarkDialogProps = Readonly<{ remark: string; onKeep: (remark: string) => void; onClose: () => void }>;

export function RemarkDialog({ remark, onKeep, onClose }: RemarkDialogProps) {
  const [text, setText] = useState(remark);
  return (
    <Dialog
      open
      title={words.remark}
      onClose={onClose}
      keys={
        <>
          <Button kind="go" size="touch" onClick={() => onKeep(text)}>
            {words.keepRemark}
          </Button>
          <Button size="touch" onClick={onClose}>
            {words.back}
          </Button>
        </>
      }
    >
      <label className={styles.remark}>
        {words.whatElse}
        <textarea rows={4} maxLength={2000} value={text} autoFocus onChange={(event) => setText(event.target.value)} />
      </label>
    </Dialog>
  );
}
