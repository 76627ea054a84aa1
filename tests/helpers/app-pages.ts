import { readdirSync } from "node:fs";
import path from "node:path";
import type { BrowserContext } from "playwright-core";
import type { Role } from "@/lib/schemas/people";

const APP = path.resolve(import.meta.dirname, "../../app");

/** Where a page of the demo plant is: an address, or a link that another page has. */
type Place = string | { readonly on: Place; readonly link: RegExp; readonly then?: string };
type Visit = { readonly as: Role | null; readonly at: readonly Place[] };

const drawing = (then = ""): Place => ({ on: "/setup", link: /href="(\/setup\/drawings\/(?!new)[^"/]+)"/, then });
const plan = (then = ""): Place => ({ on: "/setup", link: /href="(\/setup\/plans\/(?!new)[^"/]+)"/, then });
const person: Place = { on: "/setup/people", link: /href="(\/setup\/people\/[^"/]+)"/ };
const stream = (line: string, then = ""): Place => ({
  on: `/drift?line=${line}`,
  link: /href="(\/drift\/streams\/[^"/?]+)"/,
  then,
});
const batch = (state: string): Place => ({ on: `/gate?state=${state}`, link: /href="(\/gate\/batches\/[^"]+)"/ });

/** Every page by its route, as somebody who sees the most of it. A page without a row fails the walk. */
export const APP_PAGES: Readonly<Record<string, Visit>> = {
  "/": { as: "engineer", at: ["/"] },
  "/drift": { as: "engineer", at: ["/drift"] },
  "/drift/events": { as: "engineer", at: ["/drift/events", "/drift/events?line=C41&kind=reamer%20changed"] },
  "/drift/events/codes": { as: "engineer", at: ["/drift/events/codes?line=C41"] },
  "/drift/cases/[id]": { as: "engineer", at: [{ on: "/drift", link: /href="(\/drift\/cases\/[^"]+)"/ }] },
  "/drift/streams/[id]": { as: "engineer", at: [stream("C41"), stream("A46")] },
  "/drift/streams/[id]/baseline": { as: "engineer", at: [stream("C41", "/baseline?newest=100")] },
  "/drift/target/[line]": { as: "engineer", at: ["/drift/target/C41"] },
  "/drift/why": { as: "engineer", at: ["/drift/why"] },
  "/drift/why/[id]": {
    as: "engineer",
    at: [
      { on: "/drift/why", link: /href="(\/drift\/why\/[^"]+by=inspector)"/ },
      { on: "/drift/why", link: /href="(\/drift\/why\/[^"?]+)\?by=inspector"/, then: "?by=shift" },
    ],
  },
  "/frames/[serial]": {
    as: "engineer",
    at: ["/frames/C41-01000", { on: batch("held"), link: /href="(\/frames\/[^"]+)"/ }],
  },
  "/gate": { as: "supplier_manager", at: ["/gate", "/gate?state=gone"] },
  "/gate/batches/[key]": { as: "supplier_manager", at: [batch("held"), batch("gone")] },
  "/gate/costs": { as: "supplier_manager", at: ["/gate/costs"] },
  "/gate/escapes": { as: "supplier_manager", at: ["/gate/escapes"] },
  "/gate/sampling": { as: "supplier_manager", at: ["/gate/sampling", "/gate/sampling?supplier=PM&model=moorlark-c"] },
  "/gate/ship": { as: "dock", at: ["/gate/ship"] },
  "/gauges": { as: "engineer", at: ["/gauges"] },
  "/gauges/[key]": { as: "engineer", at: ["/gauges/BG-03", "/gauges/SI-01"] },
  "/gauges/studies": { as: "engineer", at: ["/gauges/studies"] },
  // The demo plant has planned none.
  "/gauges/studies/[id]": { as: "engineer", at: [] },
  "/gauges/studies/new": { as: "engineer", at: ["/gauges/studies/new"] },
  "/gauges/trace": { as: "auditor", at: ["/gauges/trace", "/gauges/trace?of=gauge&key=BG-05"] },
  "/line": { as: "inspector", at: ["/line"] },
  "/month": { as: "engineer", at: ["/month", "/month?line=C41"] },
  "/messages": { as: "engineer", at: ["/messages"] },
  "/new-plant/[token]": { as: null, at: [`/new-plant/${"a".repeat(43)}`] },
  "/search": { as: "auditor", at: ["/search?q=C41", "/search?q=no-such-thing"] },
  "/setup/about": { as: "administrator", at: ["/setup/about"] },
  "/setup": { as: "engineer", at: ["/setup"] },
  "/setup/backups": { as: "administrator", at: ["/setup/backups"] },
  "/setup/batches": { as: "engineer", at: ["/setup/batches"] },
  "/setup/devices": { as: "engineer", at: ["/setup/devices"] },
  "/setup/drawings/[id]": { as: "engineer", at: [drawing()] },
  "/setup/drawings/[id]/compare": { as: "engineer", at: [drawing("/compare")] },
  "/setup/drawings/[id]/edit": { as: "engineer", at: [drawing("/edit")] },
  "/setup/drawings/new": { as: "engineer", at: ["/setup/drawings/new"] },
  "/setup/first-off": { as: "engineer", at: ["/setup/first-off"] },
  "/setup/gauges": { as: "engineer", at: ["/setup/gauges"] },
  "/setup/gauges/[key]": { as: "engineer", at: ["/setup/gauges/BG-03"] },
  "/setup/gauges/rings/[key]": { as: "engineer", at: ["/setup/gauges/rings/RG-41-1"] },
  "/setup/jobs": { as: "administrator", at: ["/setup/jobs"] },
  "/setup/journal": { as: "auditor", at: ["/setup/journal"] },
  "/setup/messages": { as: "administrator", at: ["/setup/messages"] },
  // The demo plant sends nothing: there is none to open.
  "/setup/messages/[id]": { as: "administrator", at: [] },
  "/setup/password": { as: "auditor", at: ["/setup/password"] },
  "/setup/people": { as: "administrator", at: ["/setup/people"] },
  "/setup/people/[id]": { as: "administrator", at: [person] },
  "/setup/plans/[id]": { as: "engineer", at: [plan()] },
  "/setup/plans/[id]/edit": { as: "engineer", at: [plan("/edit")] },
  "/setup/plans/new": { as: "engineer", at: [{ on: drawing(), link: /href="(\/setup\/plans\/new\?drawing=[^"]+)"/ }] },
  "/setup/plant": { as: "engineer", at: ["/setup/plant"] },
  "/setup/plant/[part]/[key]": { as: "engineer", at: ["/setup/plant/line/C41", "/setup/plant/supplier/BT"] },
  // One that opens nothing; the wall itself is walked by its own test.
  "/wall/[token]": { as: null, at: [`/wall/sg_${"a".repeat(43)}`] },
  "/sign-in": { as: null, at: ["/sign-in"] },
};

/** The routes that have a page, from the folders. */
export function routesWithPages(): string[] {
  return readdirSync(APP, { recursive: true, encoding: "utf8" })
    .filter((file) => path.basename(file) === "page.tsx")
    .map((file) => `/${path.dirname(file).split(path.sep).join("/")}`.replace(/^\/\.$/, "/"))
    .toSorted();
}

/** The address of a place; where it is a link, of the first such link. */
export async function addressOf(context: BrowserContext, base: string, place: Place): Promise<string> {
  if (typeof place === "string") return place;
  const on = await addressOf(context, base, place.on);
  const html = await (await context.request.get(`${base}${on}`)).text();
  const link = place.link.exec(html)?.[1];
  if (link === undefined) throw new Error(`${on} has no link ${place.link.source}`);
  return `${link.replaceAll("&amp;", "&")}${place.then ?? ""}`;
}
