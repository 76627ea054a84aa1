import { KIND_WORDS } from "@/lib/format/message-words";
import { EVENT_KINDS, isEventKind } from "@/lib/quality/messages/event-kinds";
import type { Subscription } from "@/lib/quality/messages/subscription";
import { ROLES } from "@/lib/schemas/people";
import { roleWords } from "../../../_components/role-words";

/** Kinds of events as choices. */
export const KIND_OPTIONS = EVENT_KINDS.map((kind) => ({ value: kind, label: KIND_WORDS[kind] }));

export function kindWords(kinds: readonly string[]): readonly string[] {
  return kinds.map((kind) => (isEventKind(kind) ? KIND_WORDS[kind] : kind));
}

type Named = readonly { readonly id: string; readonly name: string }[];

/** The choice of a form that is about no line in particular. */
export const EVERY_LINE = "every";

export const lineOptions = (lines: Named) => [
  { value: EVERY_LINE, label: "every line" },
  ...lines.map(({ id, name }) => ({ value: id, label: name })),
];

export function whomWords({ whom }: Subscription, people: Named): string {
  if ("personId" in whom) return people.find(({ id }) => id === whom.personId)?.name ?? "somebody who has left";
  const role = ROLES.find((one) => one === whom.role);
  return role === undefined ? whom.role : `every ${roleWords(role)}`;
}

const time = (minutes: number): string =>
  `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;

export function howWords({ channel, timing, quiet }: Subscription): string {
  if (channel === "app") return "in the list For me";
  const when = timing === "at once" ? "by mail, at once" : "by mail, when a shift starts";
  return quiet === null ? when : `${when}, not from ${time(quiet.from)} until ${time(quiet.until)}`;
}
