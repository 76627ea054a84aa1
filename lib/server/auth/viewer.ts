import "server-only";
import type { Role } from "../../schemas/people";
import type { TokenScope } from "../../schemas/token";

/** The plant of who asks, as it is at this request. */
type InPlant = {
  readonly plantId: string;
  /** IANA time zone in which the plant's days begin and its moments are written. */
  readonly plantZone: string;
};

/** A person who signed in with a password. A badge code never makes one. */
export type PersonViewer = InPlant & {
  readonly kind: "person";
  readonly personId: string;
  readonly name: string;
  readonly roles: readonly Role[];
  /** The sign-in that this is; absent where nobody sent a request. */
  readonly sessionId?: string;
  /** The device that the browser has shown to be. */
  readonly provenDevice?: string;
  /** A device out of use that this sign-in was used on: it changes nothing any more. */
  readonly revokedDevice?: string;
};

/** A program with an API token. */
export type TokenViewer = InPlant & {
  readonly kind: "token";
  readonly tokenId: string;
  readonly name: string;
  readonly scopes: readonly TokenScope[];
  /** The devices that send with it, where one of them is out of use. */
  readonly devices?: { readonly revoked: readonly string[]; readonly inUse: readonly string[] };
};

/** Shellgate itself: the demo loader, the first run, a job. Signs nothing. */
export type SystemViewer = InPlant & { readonly kind: "system"; readonly name: string };

/** Who asks. Every query and command takes one first. */
export type Viewer = PersonViewer | TokenViewer | SystemViewer;

/** The actor of a journal entry: "person:UUID", "token:UUID" or "system". */
export function actorOf(viewer: Viewer): string {
  switch (viewer.kind) {
    case "person":
      return `person:${viewer.personId}`;
    case "token":
      return `token:${viewer.tokenId}`;
    case "system":
      return "system";
  }
}
