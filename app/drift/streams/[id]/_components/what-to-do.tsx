import { standingAdvice } from "@/lib/format/standing-words";
import type { StreamPage } from "@/lib/server/drift/queries";
import { ButtonLink } from "@/lib/ui/button";
import { ActionPanel } from "@/lib/ui/page-frame";
import type { StreamReading } from "./stream-reading";
import { STREAM_WORDS } from "../../words";

const words = STREAM_WORDS.whatToDo;

function Keys({
  stream,
  reading,
  mayEnter,
}: Readonly<{ stream: StreamPage; reading: StreamReading; mayEnter: boolean }>) {
  const { standing } = reading;
  if (standing.kind === "case")
    return (
      <ButtonLink href={`/drift/cases/${standing.case.id}`} kind="go">
        {words.openCase(standing.case.number)}
      </ButtonLink>
    );
  if (standing.kind === "outside") {
    const serial = stream.recent[standing.frames.at(-1) ?? 0]?.serial ?? "";
    return (
      <ButtonLink href={`/frames/${encodeURIComponent(serial)}`} kind="go">
        {words.openFrame(serial)}
      </ButtonLink>
    );
  }
  if (standing.kind !== "forecast" || !mayEnter) return null;
  return (
    <ButtonLink href="#event" kind="go">
      {words.enterWhatWasDone}
    </ButtonLink>
  );
}

/** What to do about a stream, or that there is nothing to do. */
export function WhatToDo({
  stream,
  reading,
  mayEnter,
}: Readonly<{ stream: StreamPage; reading: StreamReading; mayEnter: boolean }>) {
  const { tone, title, why } = standingAdvice(reading.standing, { line: stream.line, tool: reading.tool });
  const keys = <Keys stream={stream} reading={reading} mayEnter={mayEnter} />;
  return (
    <ActionPanel tone={tone} title={title} keys={tone === "ok" ? null : keys}>
      <p>{why}</p>
    </ActionPanel>
  );
}
