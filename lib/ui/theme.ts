/** Day or night by choice, or as the device is set. The server reads the cookie, so the first paint is already right. */
export const THEMES = ["device", "light", "night"] as const;

export type Theme = (typeof THEMES)[number];

export const THEME_COOKIE = "theme";

/** The chosen theme; anything unknown counts as no choice. */
export function parseTheme(text: string | undefined): Theme {
  return THEMES.find((theme) => theme === text) ?? "device";
}
