/** Who had a hand in some records: the people who keyed them, the people signed in when they were sent, the devices. */
export type Hands = {
  readonly keyedBy: ReadonlySet<string>;
  readonly sentBy: ReadonlySet<string>;
  readonly devices: ReadonlySet<string>;
};

/** Who wants to judge them: the person who signed in, and the devices that this sign-in is used on. */
export type Judge = { readonly personId: string; readonly deviceIds: readonly string[] };

/** What ties a judge to a record: own readings, also under a badge; an own sign-in behind another's badge; the same device. */
export type Tie = "keyed" | "sent" | "device";

/** Why somebody may not judge what they had a hand in; null where judge and records are kept apart. */
export function tieOf({ personId, deviceIds }: Judge, { keyedBy, sentBy, devices }: Hands): Tie | null {
  if (keyedBy.has(personId)) return "keyed";
  if (sentBy.has(personId)) return "sent";
  return deviceIds.some((id) => devices.has(id)) ? "device" : null;
}
