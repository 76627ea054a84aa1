"use client";

import type { BaselineWish } from "@/lib/schemas/baseline";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { useAction } from "@/lib/ui/use-action";
import { approveBaselineAction } from "../actions";
import { BASELINE_WORDS } from "../words";
import styles from "../baseline.module.css";

const words = BASELINE_WORDS.approve;

type Approved = Readonly<{ version: number; frames: number }>;

/** Signs for the baseline that is previewed above it. */
export function ApproveForm({
  streamId,
  versionSeen,
  wish,
  previewed,
}: Readonly<{ streamId: string; versionSeen: number; wish: BaselineWish; previewed: string }>) {
  const { result, isReady, submits } = useAction<Approved>();
  return (
    <form
      className={styles.form}
      onSubmit={submits(
        (fields) => approveBaselineAction({ streamId, versionSeen, wish, previewed, ...signatureOf(fields) }),
        (form) => form.reset(),
      )}
    >
      <p className={styles.note}>{words.hint}</p>
      <div className={styles.fields}>
        <SignatureFields />
        <Button type="submit" kind="go" disabled={!isReady}>
          {words.button}
        </Button>
      </div>
      <ActionAnswer result={result} refused={words.refused}>
        {result?.ok ? words.done(result.data.version, result.data.frames) : ""}
      </ActionAnswer>
    </form>
  );
}
