"use client";

import Form from "next/form";
import { useEffect, useRef } from "react";
import { UI_WORDS } from "./words";
import styles from "./work-area-rail.module.css";

const words = UI_WORDS.searchField;

function isTyping(target: EventTarget | null): boolean {
  return (
    target instanceof HTMLElement && (target.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName))
  );
}

export function SearchField({ query }: Readonly<{ query?: string }>) {
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => {
    function handleKey(event: KeyboardEvent) {
      if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || isTyping(event.target)) return;
      event.preventDefault();
      input.current?.focus();
      input.current?.select();
    }
    document.addEventListener("keydown", handleKey);
    return () => document.removeEventListener("keydown", handleKey);
  }, []);
  return (
    <Form action="/search" className={styles.find} role="search">
      <input
        ref={input}
        name="q"
        type="search"
        defaultValue={query}
        placeholder={words.search}
        aria-label={words.searchBySerial}
        aria-keyshortcuts="/"
        autoComplete="off"
        spellCheck={false}
        maxLength={64}
        required
      />
      <kbd aria-hidden="true">/</kbd>
    </Form>
  );
}
