import type { Metadata, Viewport } from "next";
import { cookies } from "next/headers";
import type { ReactNode } from "react";
import { parseTheme, THEME_COOKIE } from "@/lib/ui/theme";
import { APP_WORDS } from "./_components/words";
import "@fontsource-variable/sofia-sans/wght.css";
import "@fontsource-variable/sofia-sans-semi-condensed/wght.css";
import "@fontsource-variable/sometype-mono/wght.css";
import "./styles/tokens.css";
import "./styles/base.css";
import "./styles/print.css";

const words = APP_WORDS.layout;

export const metadata: Metadata = {
  title: { default: "Shellgate", template: "%s, Shellgate" },
  description: words.bottomBracketShellsMeasured,
};

export const viewport: Viewport = {
  width: "device-width",
  initialScale: 1,
  themeColor: [
    { media: "(prefers-color-scheme: light)", color: "#f7f6f2" },
    { media: "(prefers-color-scheme: dark)", color: "#10171d" },
  ],
};

export default async function RootLayout({ children }: Readonly<{ children: ReactNode }>) {
  const theme = parseTheme((await cookies()).get(THEME_COOKIE)?.value);
  return (
    <html lang="en" data-theme={theme === "device" ? undefined : theme}>
      <body>
        <a className="skipLink" href="#main">
          {words.goToContent}
        </a>
        {children}
      </body>
    </html>
  );
}
