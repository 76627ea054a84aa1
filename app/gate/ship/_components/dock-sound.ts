/** What is heard at an answer: frequencies in Hz one after the other. Go rises, stop falls, the third is one long tone. */
const TONES = { go: [880, 1320], stop: [330, 220, 330, 220], again: [520] } as const;
const TONE_S = { go: 0.12, stop: 0.2, again: 0.4 } as const;

let context: AudioContext | null = null;

/** Plays the tones of an answer. Where the browser has no sound or does not let it out, nothing happens. */
export function playAnswer(answer: keyof typeof TONES): void {
  try {
    context ??= new AudioContext();
    void context.resume();
    const { currentTime, destination } = context;
    const loudness = context.createGain();
    loudness.gain.value = 0.3;
    loudness.connect(destination);
    TONES[answer].forEach((frequency, at) => {
      const tone = context?.createOscillator();
      if (tone === undefined) return;
      tone.type = answer === "go" ? "sine" : "square";
      tone.frequency.value = frequency;
      tone.connect(loudness);
      tone.start(currentTime + at * TONE_S[answer]);
      tone.stop(currentTime + (at + 1) * TONE_S[answer]);
    });
  } catch {
    // The word, the mark and the brightness say it, too.
  }
}
