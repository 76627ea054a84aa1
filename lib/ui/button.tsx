import Link from "next/link";
import type { ButtonHTMLAttributes, ReactNode } from "react";
import styles from "./button.module.css";

type ButtonLook = Readonly<{
  /** `go` is the one thing to do next; a screen has at most one. */
  kind?: "go" | "plain" | "quiet";
  /** `touch` for gloves, `large` for the main key of Line. */
  size?: "desk" | "touch" | "large";
  wide?: boolean;
  /** The key that does the same, as "Enter". */
  keyHint?: string;
  /** A second line in smaller type. */
  detail?: ReactNode;
  children: ReactNode;
}>;

function classesOf({ kind = "plain", size = "desk", wide }: Omit<ButtonLook, "children">): string {
  return [
    styles.button,
    kind === "plain" ? "" : styles[kind],
    size === "desk" ? "" : styles[size],
    wide ? styles.wide : "",
  ]
    .filter(Boolean)
    .join(" ");
}

function Content({ keyHint, detail, children }: Pick<ButtonLook, "keyHint" | "detail" | "children">) {
  return (
    <>
      <span>
        {children}
        {detail ? <span className={styles.detail}>{detail}</span> : null}
      </span>
      {keyHint ? (
        <kbd className={styles.key} aria-hidden="true">
          {keyHint}
        </kbd>
      ) : null}
    </>
  );
}

type ButtonProps = ButtonLook & Omit<ButtonHTMLAttributes<HTMLButtonElement>, "className" | "style" | "children">;

export function Button({ kind, size, wide, keyHint, detail, children, type = "button", ...rest }: ButtonProps) {
  return (
    <button {...rest} type={type} className={classesOf({ kind, size, wide })}>
      <Content keyHint={keyHint} detail={detail}>
        {children}
      </Content>
    </button>
  );
}

/** A link that looks like a button: for going somewhere, never for changing something. */
export function ButtonLink({
  href,
  kind,
  size,
  wide,
  keyHint,
  detail,
  children,
  download,
}: ButtonLook & Readonly<{ href: string; download?: boolean }>) {
  const className = classesOf({ kind, size, wide });
  const content = (
    <Content keyHint={keyHint} detail={detail}>
      {children}
    </Content>
  );
  return download ? (
    <a href={href} className={className} download>
      {content}
    </a>
  ) : (
    <Link href={href} className={className}>
      {content}
    </Link>
  );
}
