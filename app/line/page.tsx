import type { Metadata, Viewport } from "next";
import { cookies } from "next/headers";
import { programBuild } from "@/lib/server/line/program-build";
import { parseTheme, THEME_COOKIE } from "@/lib/ui/theme";
import { WorkAreaRail } from "@/lib/ui/work-area-rail";
import { SignOut } from "../_components/sign-out";
import { areasOf, requireViewer } from "../_components/work-page";
import { LineApp } from "./_components/line-app";

export const metadata: Metadata = {
  title: "Line",
  manifest: "/line.webmanifest",
  appleWebApp: { capable: true, title: "Shellgate Line", statusBarStyle: "default" },
};

export const viewport: Viewport = { width: "device-width", initialScale: 1, interactiveWidget: "resizes-content" };

/** Everything but the rail comes from the device itself, so that this page starts without the network. */
export default async function LinePage() {
  const viewer = await requireViewer("/line", "line.view");
  const theme = parseTheme((await cookies()).get(THEME_COOKIE)?.value);
  return (
    <LineApp
      build={programBuild()}
      viewerName={viewer.name}
      rail={
        <WorkAreaRail
          current="line"
          theme={theme}
          areas={areasOf(viewer)}
          person={{ name: viewer.name, role: viewer.roles.join(", ").replaceAll("_", " ") }}
          signOut={<SignOut />}
        />
      }
    />
  );
}
