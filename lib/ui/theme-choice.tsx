"use client";

import { useState } from "react";
import { SegmentedChoice } from "./segmented-choice";
import { THEME_COOKIE, type Theme } from "./theme";
import { UI_WORDS } from "./words";

const words = UI_WORDS.themeChoice;

const YEAR_S = 31_536_000;

const CHOICES = [
  { value: "device", label: words.device },
  { value: "light", label: words.day },
  { value: "night", label: words.night },
] as const satisfies readonly { value: Theme; label: string }[];

export function ThemeChoice({ initial }: Readonly<{ initial: Theme }>) {
  const [theme, setTheme] = useState(initial);
  function handleChange(next: Theme) {
    setTheme(next);
    if (next === "device") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = next;
    document.cookie = `${THEME_COOKIE}=${next}; path=/; max-age=${YEAR_S}; samesite=lax`;
  }
  return (
    <SegmentedChoice
      name="theme"
      label={words.theme}
      labelAbove
      choices={CHOICES}
      value={theme}
      onChange={handleChange}
    />
  );
}
