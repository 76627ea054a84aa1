import type { Metadata, Viewport } from "next";
import { programBuild } from "@/lib/server/line/program-build";
import { Rail } from "../_components/rail";
import { requireViewer } from "../_components/work-page";
import { LineApp } from "./_components/line-app";
import { FIRST_SCREEN_WORDS } from "./words/first-screen";

const words = FIRST_SCREEN_WORDS.page;

export const metadata: Metadata = {
  title: words.line,
  manifest: "/line.webmanifest",
  appleWebApp: { capable: true, title: words.shellgateLine, statusBarStyle: "default" },
};

export const viewport: Viewport = { width: "device-width", initialScale: 1, interactiveWidget: "resizes-content" };

/** Everything but the rail comes from the device itself, so that this page starts without the network. */
export default async function LinePage() {
  const viewer = await requireViewer("/line", "line.view");
  return <LineApp build={programBuild()} viewerName={viewer.name} rail={<Rail viewer={viewer} current="line" />} />;
}
