import Link from "next/link";
import parts from "./parts.module.css";

/** The key of a part as the way to change it, and whether it is out of use. */
export function PartLink({ href, part, out }: Readonly<{ href: string; part: string; out?: string | false }>) {
  return (
    <>
      <Link href={`${href}/${encodeURIComponent(part)}`}>{part}</Link>
      {out ? <small className={parts.out}> {out}</small> : null}
    </>
  );
}

/** What stands beside a part that is out of use. */
export const outWords = (inUse: boolean): string | false => !inUse && "out of use";
