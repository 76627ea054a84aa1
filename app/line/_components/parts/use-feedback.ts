"use client";

import { useEffect, useRef } from "react";
import type { Feedback } from "@/lib/offline/device/line-state";

/** Tones far enough apart for a loud hall: Hz and seconds, and how the hand feels it, ms. */
const TONES = {
  good: { notes: [[880, 0.07]], pulse: [20] },
  out: {
    notes: [
      [220, 0.16],
      [175, 0.24],
    ],
    pulse: [80, 60, 120],
  },
  question: {
    notes: [
      [520, 0.08],
      [520, 0.08],
    ],
    pulse: [40, 40, 40],
  },
} as const;

function sound(audio: AudioContext, tone: Feedback["tone"]): void {
  let at = audio.currentTime;
  for (const [hertz, seconds] of TONES[tone].notes) {
    const oscillator = audio.createOscillator();
    const gain = audio.createGain();
    oscillator.frequency.value = hertz;
    gain.gain.setValueAtTime(0.16, at);
    gain.gain.exponentialRampToValueAtTime(0.001, at + seconds);
    oscillator.connect(gain).connect(audio.destination);
    oscillator.start(at);
    oscillator.stop(at + seconds);
    at += seconds + 0.04;
  }
}

/** A short sound and a pulse for good, out and question; silent when muted. */
export function useFeedback(feedback: Feedback | null, muted: boolean): void {
  const audio = useRef<AudioContext | null>(null);
  const played = useRef(feedback?.count ?? 0);
  useEffect(() => {
    if (feedback === null || feedback.count === played.current) return;
    played.current = feedback.count;
    if (muted) return;
    const { tone } = feedback;
    // After the paint: making sound ready takes longer than drawing the answer.
    requestAnimationFrame(() =>
      setTimeout(() => {
        // Before the first key the browser lets nothing be heard or felt: it would come all at once later.
        if (navigator.userActivation?.hasBeenActive === false) return;
        navigator.vibrate?.([...TONES[tone].pulse]);
        const speaker = (audio.current ??= new AudioContext());
        if (speaker.state === "running") sound(speaker, tone);
        else void speaker.resume().then(() => sound(speaker, tone));
      }),
    );
  }, [feedback, muted]);
}
