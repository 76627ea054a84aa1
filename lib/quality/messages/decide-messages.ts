import { dueTime, type PlantClock } from "./due-time";
import type { EventKind, PlantEvent } from "./event-kinds";
import { wants, type Subscription } from "./subscription";

/** More than this many events of one kind within the minutes below are a storm, and one message (common practice, no source). */
export const STORM_EVENTS = 3;
export const STORM_MINUTES = 10;
const STORM_MS = STORM_MINUTES * 60_000;

/** Somebody who can be told. */
export type Reader = { readonly personId: string; readonly roles: readonly string[]; readonly hasMail: boolean };

/** A message of before. */
export type EarlierMessage = {
  readonly id: string;
  readonly kind: EventKind;
  readonly isStorm: boolean;
  readonly acknowledged: boolean;
  readonly events: number;
  /** Of its newest event, ms since 1970. */
  readonly latestMs: number;
};

/** Whom a message is for in the application: by role and by name. */
export type Audience = { readonly roles: readonly string[]; readonly personIds: readonly string[] };
export type MailTo = { readonly personId: string; readonly dueMs: number };

export type DecidedMessage = {
  readonly kind: EventKind;
  /** At least one; each event is in one message only. */
  readonly events: readonly PlantEvent[];
  /** The storm of before that these events join; null where the message is new. */
  readonly joins: string | null;
  readonly isStorm: boolean;
  readonly audience: Audience;
  /** One for each person; who was mailed of the same message before is not mailed again, which is the sender's matter. */
  readonly mails: readonly MailTo[];
};

export type DecidingGrounds = {
  readonly subscriptions: readonly Subscription[];
  readonly readers: readonly Reader[];
  readonly earlier: readonly EarlierMessage[];
  readonly clock: PlantClock;
  /** False without a mail server: nobody is mailed then. */
  readonly mailIsSetUp: boolean;
};

function isFor({ whom }: Subscription, reader: Reader): boolean {
  return "role" in whom ? reader.roles.includes(whom.role) : whom.personId === reader.personId;
}

function audienceOf(subscriptions: readonly Subscription[]): Audience {
  const roles = subscriptions.flatMap(({ whom }) => ("role" in whom ? [whom.role] : []));
  const personIds = subscriptions.flatMap(({ whom }) => ("role" in whom ? [] : [whom.personId]));
  return { roles: [...new Set(roles)].sort(), personIds: [...new Set(personIds)].sort() };
}

/** Everybody who is mailed, each at the earliest moment that one of the subscriptions gives. */
function mailsOf(subscriptions: readonly Subscription[], { readers, clock, mailIsSetUp }: DecidingGrounds): MailTo[] {
  if (!mailIsSetUp) return [];
  const byMail = subscriptions.filter(({ channel }) => channel === "mail");
  return readers.flatMap((reader) => {
    const due = byMail.filter((one) => reader.hasMail && isFor(one, reader)).map((one) => dueTime(one, clock));
    return due.length === 0 ? [] : [{ personId: reader.personId, dueMs: Math.min(...due) }];
  });
}

type Group = Pick<DecidedMessage, "events" | "joins" | "isStorm">;

/** How the new events of one kind come together: a storm that goes on, a storm that begins, or each by itself. */
function groupsOf(events: readonly PlantEvent[], earlier: readonly EarlierMessage[], nowMs: number): readonly Group[] {
  const recent = earlier.filter(({ latestMs }) => latestMs > nowMs - STORM_MS);
  const storm = recent.find(({ isStorm, acknowledged }) => isStorm && !acknowledged);
  if (storm) return [{ events, joins: storm.id, isStorm: true }];
  const told = recent.reduce((sum, one) => sum + one.events, 0);
  if (told + events.length > STORM_EVENTS) return [{ events, joins: null, isStorm: true }];
  return events.map((event) => ({ events: [event], joins: null, isStorm: false }));
}

/**
 * What people are told of some events, and when. An event that nobody wants gives nothing; one that several subscriptions want gives
 * one message for all of them. What somebody is mailed stands in the application, too.
 *
 * @param events - in their order, none of which was given before
 */
export function decideMessages(events: readonly PlantEvent[], grounds: DecidingGrounds): readonly DecidedMessage[] {
  const wanted = events
    .map((event) => ({ event, by: grounds.subscriptions.filter((one) => wants(one, event)) }))
    .filter(({ by }) => by.length > 0);
  const subscribed = new Map(wanted.map(({ event, by }) => [event.id, by]));
  const kinds = [...new Set(wanted.map(({ event }) => event.kind))];
  return kinds.flatMap((kind) => {
    const ofKind = wanted.map(({ event }) => event).filter((event) => event.kind === kind);
    const earlier = grounds.earlier.filter((one) => one.kind === kind);
    return groupsOf(ofKind, earlier, grounds.clock.nowMs).map((group) => {
      const by = [...new Set(group.events.flatMap(({ id }) => subscribed.get(id) ?? []))];
      return { kind, ...group, audience: audienceOf(by), mails: mailsOf(by, grounds) };
    });
  });
}
