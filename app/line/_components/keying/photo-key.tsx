"use client";

import { useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { shrinkPhoto } from "@/lib/offline/keying/shrink-photo";
import { KEYING_WORDS } from "../../words/keying";
import parts from "../parts/parts.module.css";

const words = KEYING_WORDS.photo;

async function inBase64(blob: Blob): Promise<string> {
  const address = await new Promise<string>((done, failed) => {
    const reader = new FileReader();
    reader.onload = () => done(String(reader.result));
    reader.onerror = () => failed(new Error("the picture could not be read"));
    reader.readAsDataURL(blob);
  });
  return address.slice(address.indexOf(",") + 1);
}

/** Takes a photo with the camera, or from a file; small, and without the camera's data. */
export function PhotoKey({ device, onKept }: Readonly<{ device: LineDevice; onKept?: () => void }>) {
  const [problem, setProblem] = useState<string | null>(null);
  const take = async (file: File): Promise<void> => {
    const small = await shrinkPhoto(file);
    if (small === null) {
      setProblem(words.browserCannotReadPicture);
      return;
    }
    setProblem(null);
    await device.addPhoto(await inBase64(small));
    onKept?.();
  };
  return (
    <>
      <label className={parts.file}>
        {words.takePhoto}
        <input
          type="file"
          accept="image/*"
          capture="environment"
          onChange={(event) => {
            const file = event.target.files?.[0];
            if (file) void take(file);
            event.target.value = "";
          }}
        />
      </label>
      {problem === null ? null : <p role="alert">{problem}</p>}
    </>
  );
}
