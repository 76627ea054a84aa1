import type { ReactNode } from "react";
import { formatMoment } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
import type { SuspectFactor } from "@/lib/quality/stream-suspects";
import type { StreamPage } from "@/lib/server/drift/queries";
import { ButtonLink } from "@/lib/ui/button";
import { ActionPanel } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import type { StreamReading } from "./stream-reading";

/** Working days within which a tool has to be changed before the screen asks for it. */
const DAYS_AHEAD = 3;

const FACTOR_WORDS: Record<SuspectFactor, string> = {
  gauge: "gauge",
  fixture: "fixture",
  inspector: "inspector",
  tool: "reamer",
};

type Advice = { readonly tone: "signal" | "ok" | "blue"; readonly title: string; readonly why: ReactNode };

/** "within 12 frames"; less than one frame is now. */
const framesWords = (frames: number): string =>
  frames < 1 ? "now" : `within ${formatCounted(Math.floor(frames), "frame")}`;

/** The one thing to do next, with the numbers behind it. */
function adviceOf(stream: StreamPage, reading: StreamReading, zone: string): Advice {
  const { finding, near, suspects, numberOf, framesPerDay, tool } = reading;
  const left = reading.toolLife?.ok ? reading.toolLife.value : null;
  if (left !== null && left.untilBound !== null && left.untilBound <= framesPerDay * DAYS_AHEAD)
    return {
      tone: "signal",
      title: `Change the reamer${tool === null ? "" : ` ${tool}`} ${framesWords(left.untilBound)}`,
      why: `Up to then a frame still conforms with 95 % confidence. ${stream.line} makes about ${Math.round(framesPerDay)} a day.`,
    };
  if (stream.openSignals === 0) {
    const moves = finding.kind === "moved" || finding.kind === "off-baseline";
    return {
      tone: "ok",
      title: moves ? "Nothing to do yet" : "Nothing to do",
      why: moves
        ? "No signal is open: what moved is known or too small to act on. Go on measuring; the next signal says when it matters."
        : "No signal is open. The process runs as its baseline did; adjusting it now would only add variation.",
    };
  }
  if (finding.kind === "moved" && finding.shape === "drift" && left !== null) {
    const frames = Math.floor(Math.min(left.interval[0], left.untilBound ?? left.interval[0]));
    const days = Math.round(frames / Math.max(1, framesPerDay));
    return {
      tone: "signal",
      title: `Plan to change the reamer${tool === null ? "" : ` ${tool}`} ${framesWords(frames)}`,
      why: `It wears: the bore moves towards its ${left.limit} limit, steadily. At ${Math.round(framesPerDay)} frames a day that is ${days === 1 ? "1 day" : `${days} days`}. If that is the cause of the signals, assign it.`,
    };
  }
  const apart = suspects.find(({ answer }) => answer.kind === "differs");
  if (finding.kind === "moved" && apart?.answer.kind === "differs")
    return {
      tone: "signal",
      title: `Look at ${FACTOR_WORDS[apart.factor]} ${apart.answer.most}`,
      why: `Its frames moved since frame ${numberOf(finding.since)}, the others did not, or less.`,
    };
  if ((finding.kind === "moved" || finding.kind === "off-baseline") && near !== null)
    return {
      tone: "signal",
      title: "Say whether this was the cause",
      why: (
        <>
          {keepWhole(`${near.event.text}, ${formatMoment(near.event.at, { zone })}`)}
          {near.framesBefore === 0
            ? ", at the change."
            : `, ${formatCounted(near.framesBefore, "frame")} before the change.`}
        </>
      ),
    };
  if (finding.kind === "moved")
    return {
      tone: "signal",
      title: `Find what changed at frame ${numberOf(finding.since)}`,
      why: `No event is entered about then. It can be any frame from ${numberOf(finding.earliest)} to ${numberOf(finding.latest)} (95 %).`,
    };
  return {
    tone: "signal",
    title: `Assign a cause to ${formatCounted(stream.openSignals, "signal")}`,
    why: "No shift detected. If it was a false alarm, record that to close it.",
  };
}

/** What to do about a stream, or that there is nothing to do. */
export function WhatToDo({
  stream,
  reading,
  zone,
  mayAssign,
  mayEnter,
}: Readonly<{ stream: StreamPage; reading: StreamReading; zone: string; mayAssign: boolean; mayEnter: boolean }>) {
  const { tone, title, why } = adviceOf(stream, reading, zone);
  const keys =
    tone === "ok" ? null : (
      <>
        {mayEnter ? (
          <ButtonLink href="#event" kind="go">
            Enter what was done
          </ButtonLink>
        ) : null}
        {mayAssign && stream.openSignals > 0 ? <ButtonLink href="#signals">Assign a cause</ButtonLink> : null}
      </>
    );
  return (
    <ActionPanel tone={tone} title={title} keys={keys}>
      <p>{why}</p>
    </ActionPanel>
  );
}
