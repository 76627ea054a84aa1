"use client";

import { useEffect, useRef, useState } from "react";
import type { BarPassage, PlugFeel, Seat } from "@/lib/core/metrology/reading-name";
import { angleSeenFrom, formatSideOfView } from "@/lib/format/clock-text";
import { Button } from "@/lib/ui/button";
import { KEYING_WORDS } from "../../words/keying";
import styles from "./keying.module.css";

const words = KEYING_WORDS.wordKeys;

type WordKeysProps = Readonly<{
  kind: "plug" | "rod" | "bar";
  side: Seat;
  onWord: (word: PlugFeel | BarPassage) => void;
  /** A scan that came in between. */
  onCode: (code: string) => void;
}>;

const FEELS: readonly { feel: PlugFeel; text: string }[] = [
  { feel: "slides", text: words.slides },
  { feel: "hand", text: words.handPressure },
  { feel: "no", text: words.willNotEnter },
];
/** A rod is tried across the seat: it enters any. */
const ROD_TEXTS = [words.passes, words.touches, words.willNotPass];
/** All have three words. */
const PLACES = 3;
const PASSAGES = [words.free, words.stiffAt, words.willNotPass];
const HOURS = [12, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11];

/** Feel of a plug or of a rod across, or passage of the bar with its clock position: number keys and Enter, or touch. */
export function WordKeys({ kind, side, onWord, onCode }: WordKeysProps) {
  const [text, setText] = useState("");
  const [stiff, setStiff] = useState(false);
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => input.current?.focus({ preventScroll: true }), [stiff]);

  function choose(place: number) {
    const feel = FEELS[place];
    if (kind !== "bar") {
      if (feel) onWord(feel.feel);
    } else if (place === 1) setStiff(true);
    else onWord({ result: place === 0 ? "free" : "no" });
  }

  function stiffAt(hour: number) {
    onWord({ result: "stiff", clockDeg: angleSeenFrom((hour % 12) * 30, side) });
  }

  function commit() {
    const keyed = text.trim();
    setText("");
    const place = /^\d{1,2}$/.test(keyed) ? Number(keyed) : Number.NaN;
    if (stiff && HOURS.includes(place)) stiffAt(place);
    else if (!stiff && place >= 1 && place <= PLACES) choose(place - 1);
    else if (keyed !== "") onCode(keyed);
  }

  return (
    <div className={styles.words}>
      <input
        ref={input}
        id="reading"
        data-takes-keys
        className="visuallyHidden"
        inputMode="none"
        autoComplete="off"
        aria-label={stiff ? words.clockPosition : words.numberOfWord}
        value={text}
        onChange={(event) => setText(event.target.value)}
        onKeyDown={(event) => {
          if (event.key === "Escape") setStiff(false);
          if (event.key !== "Enter") return;
          event.preventDefault();
          commit();
        }}
      />
      {stiff ? (
        <div className={styles.hours}>
          <p>{words.stiffAtWhichHour(formatSideOfView(side))}</p>
          {HOURS.map((hour) => (
            <Button key={hour} size="touch" onClick={() => stiffAt(hour)}>
              {hour}
            </Button>
          ))}
          <Button size="touch" wide keyHint="Esc" onClick={() => setStiff(false)}>
            {words.notStiff}
          </Button>
        </div>
      ) : (
        { plug: FEELS.map((feel) => feel.text), rod: ROD_TEXTS, bar: PASSAGES }[kind].map((word, place) => (
          <Button key={word} size="large" wide keyHint={`${place + 1} Enter`} onClick={() => choose(place)}>
            {word}
          </Button>
        ))
      )}
    </div>
  );
}
