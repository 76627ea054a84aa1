"use client";

import { useEffect, useRef, useState } from "react";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { PaperAbout } from "@/lib/schemas/paper";
import { Button } from "@/lib/ui/button";
import { StatusLine } from "@/lib/ui/status-line";
import { useAwake } from "@/lib/ui/use-awake";
import { PAPER_REQUEST_WORDS as words } from "../paper-words";

type State =
  | { readonly at: "rest" }
  | { readonly at: "made"; readonly share: number }
  | { readonly at: "ready"; readonly href: string }
  | { readonly at: "failed"; readonly because: string };

const EVERY_MS = 700;

async function answerOf(response: Response): Promise<Record<string, unknown>> {
  const body = (await response.json()) as Record<string, unknown>;
  if (!response.ok) throw new Error(typeof body.detail === "string" ? body.detail : words.noAnswer);
  return body;
}

/** Asks for a document and shows how far it is; then it can be opened. `about` is read when it is asked for. */
export function PaperRequest({
  about,
  label = words.ask,
}: Readonly<{ about: () => PaperAbout | null; label?: string }>) {
  const isAwake = useAwake();
  const [state, setState] = useState<State>({ at: "rest" });
  const asked = useRef<AbortController | null>(null);
  useEffect(() => () => asked.current?.abort(), []);

  async function follow(wanted: PaperAbout): Promise<void> {
    asked.current?.abort();
    const controller = new AbortController();
    asked.current = controller;
    const { signal } = controller;
    const id = uuidV7();
    try {
      setState({ at: "made", share: 0 });
      const headers = { "content-type": "application/json" };
      await answerOf(
        await fetch("/api/v1/papers", { method: "POST", headers, body: JSON.stringify({ id, about: wanted }), signal }),
      );
      for (;;) {
        await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
        const told = await answerOf(await fetch(`/api/v1/papers/${id}`, { signal }));
        if (typeof told.failure === "string") throw new Error(told.failure);
        if (told.isReady === true) {
          setState({ at: "ready", href: `/api/v1/papers/${id}/file` });
          return;
        }
        setState({ at: "made", share: Number(told.made) });
      }
    } catch (error) {
      if (signal.aborted) return;
      setState({
        at: "failed",
        because: error instanceof TypeError || !(error instanceof Error) ? words.noAnswer : error.message,
      });
    }
  }

  return (
    <div>
      <Button
        kind="quiet"
        disabled={!isAwake || state.at === "made"}
        onClick={() => {
          const wanted = about();
          if (wanted !== null) void follow(wanted);
        }}
      >
        {label}
      </Button>
      {state.at === "made" ? (
        <StatusLine progress={{ done: state.share, of: 100, label: words.progress }}>{words.making}</StatusLine>
      ) : null}
      {state.at === "ready" ? (
        <StatusLine state="go">
          <a href={state.href} download>
            {words.open}
          </a>
        </StatusLine>
      ) : null}
      {state.at === "failed" ? <StatusLine state="stop">{state.because}</StatusLine> : null}
    </div>
  );
}
