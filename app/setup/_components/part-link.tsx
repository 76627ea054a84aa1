import Link from "next/link";
import { SETUP_WORDS } from "../words/first-page";
import parts from "./parts.module.css";

const words = SETUP_WORDS.parts;

type PartLinkProps = Readonly<{
  href: string;
  /** Its key, as the address has it. */
  part: string;
  /** What people read, where it is not the key. */
  name?: string;
  out?: string | false;
}>;

/** A part as the way to change it, and whether it is out of use. */
export function PartLink({ href, part, name = part, out }: PartLinkProps) {
  return (
    <>
      <Link href={`${href}/${encodeURIComponent(part)}`}>{name}</Link>
      {out ? <small className={parts.out}> {out}</small> : null}
    </>
  );
}

/** What stands beside a part that is out of use. */
export const outWords = (inUse: boolean): string | false => !inUse && words.outOfUse;
