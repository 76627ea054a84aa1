import type { ReactNode } from "react";
import { formatMoment } from "@/lib/format/date-text";
import type { StreamPage } from "@/lib/server/drift/queries";
import { ButtonLink } from "@/lib/ui/button";
import { ActionPanel } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import type { StreamReading } from "./stream-reading";
import { STREAM_WORDS } from "../../words";

const words = STREAM_WORDS.whatToDo;

/** Working days within which a tool has to be changed before the screen asks for it. */
const DAYS_AHEAD = 3;

type Advice = { readonly tone: "signal" | "ok" | "blue"; readonly title: string; readonly why: ReactNode };

/** "within 12 frames"; less than one frame is now. */
const framesWords = (frames: number): string => (frames < 1 ? "now" : words.within(Math.floor(frames)));

/** The one thing to do next, with the numbers behind it. */
function adviceOf(stream: StreamPage, reading: StreamReading, zone: string): Advice {
  const { finding, near, suspects, numberOf, framesPerDay, tool } = reading;
  const left = reading.toolLife?.ok ? reading.toolLife.value : null;
  if (left !== null && left.untilBound !== null && left.untilBound <= framesPerDay * DAYS_AHEAD)
    return {
      tone: "signal",
      title: words.changeReamer(tool === null ? "" : ` ${tool}`, framesWords(left.untilBound)),
      why: words.upToThenFrameStill(stream.line, Math.round(framesPerDay)),
    };
  if (stream.openSignals === 0) {
    const moves = finding.kind === "moved" || finding.kind === "off-baseline";
    return {
      tone: "ok",
      title: moves ? words.nothingToDoYet : words.nothingToDo,
      why: moves ? words.noSignalIsOpen : words.noSignalIsOpenSentence,
    };
  }
  if (finding.kind === "moved" && finding.shape === "drift" && left !== null) {
    const frames = Math.floor(Math.min(left.interval[0], left.untilBound ?? left.interval[0]));
    const days = Math.round(frames / Math.max(1, framesPerDay));
    return {
      tone: "signal",
      title: words.planToChangeReamer(tool === null ? "" : ` ${tool}`, framesWords(frames)),
      why: words.itWears(left.limit, Math.round(framesPerDay), days === 1 ? words.oneDay : words.days(days)),
    };
  }
  const apart = suspects.find(({ answer }) => answer.kind === "differs");
  if (finding.kind === "moved" && apart?.answer.kind === "differs")
    return {
      tone: "signal",
      title: words.lookAt(words.factorWords[apart.factor], apart.answer.most),
      why: words.framesMovedSinceFrame(numberOf(finding.since)),
    };
  if ((finding.kind === "moved" || finding.kind === "off-baseline") && near !== null)
    return {
      tone: "signal",
      title: words.sayWhetherWasCause,
      why: (
        <>
          {keepWhole(`${near.event.text}, ${formatMoment(near.event.at, { zone })}`)}
          {near.framesBefore === 0 ? words.atChange : words.beforeChange(near.framesBefore)}
        </>
      ),
    };
  if (finding.kind === "moved")
    return {
      tone: "signal",
      title: words.findWhatChangedAtFrame(numberOf(finding.since)),
      why: words.noEventIsEnteredAbout(numberOf(finding.earliest), numberOf(finding.latest)),
    };
  return {
    tone: "signal",
    title: words.assignCauseTo(stream.openSignals),
    why: words.noShiftDetected,
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
            {words.enterWhatWasDone}
          </ButtonLink>
        ) : null}
        {mayAssign && stream.openSignals > 0 ? <ButtonLink href="#signals">{words.assignCause}</ButtonLink> : null}
      </>
    );
  return (
    <ActionPanel tone={tone} title={title} keys={keys}>
      <p>{why}</p>
    </ActionPanel>
  );
}
