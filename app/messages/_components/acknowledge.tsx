"use client";

import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { useAction } from "@/lib/ui/use-action";
import { acknowledgeAction } from "../actions";
import { MESSAGE_WORDS } from "../words";

const words = MESSAGE_WORDS.acknowledge;

/** Takes a message off the list of everybody whom it is for. */
export function Acknowledge({ id, title }: Readonly<{ id: string; title: string }>) {
  const { result, isReady, send } = useAction<unknown>();
  return (
    <>
      <Button
        kind="quiet"
        disabled={!isReady}
        aria-label={words.acknowledgeMessage(title)}
        onClick={() => send(() => acknowledgeAction({ id }))}
      >
        {words.acknowledge}
      </Button>
      {result?.ok === false ? <ActionAnswer result={result} refused={words.notAcknowledged} /> : null}
    </>
  );
}
