"use client";

import { useState } from "react";
import type { KeyingSession } from "@/lib/offline/device/keying-session";
import type { LineDevice } from "@/lib/offline/line-device";
import { Button } from "@/lib/ui/button";
import { ReadingField } from "../parts/reading-field";
import { KEYING_WORDS } from "../../words/keying";
import ask from "../parts/ask.module.css";
import parts from "../parts/parts.module.css";

const words = KEYING_WORDS.temperature;

/** The shell's temperature, where the plan asks for it: after the readings, while the shell is on the stand. */
export function TemperatureAsk({ device, session }: Readonly<{ device: LineDevice; session: KeyingSession }>) {
  const [text, setText] = useState("");
  const commit = (keyed: string): void => {
    if (keyed.trim() === "") return;
    void device.key({ type: "enter", text: keyed, offsetMs: 0 });
    setText("");
  };
  return (
    <section className={ask.ask} aria-label={words.askedTemperature}>
      <h1 className={ask.askTitle}>{words.temperatureOfShell}</h1>
      <p className={ask.askDetail}>{words.readAtShell}</p>
      <ReadingField
        label={words.temperatureOfShellInC}
        unit="°C"
        text={text}
        keypad={false}
        invalid={session.refusal !== null}
        busy={false}
        asked="temperature"
        onText={setText}
        onCommit={commit}
      />
      <div className={ask.answer}>
        {session.refusal === null || text !== "" ? null : (
          <p className={parts.refusal} role="alert">
            {session.refusal}
          </p>
        )}
      </div>
      <Button
        kind="go"
        size="large"
        wide
        keyHint="Enter"
        onMouseDown={(event) => event.preventDefault()}
        onClick={() => commit(text)}
      >
        {words.keepTemperature}
      </Button>
    </section>
  );
}
