"use client";

import { useRef, type KeyboardEvent } from "react";
import { parseReadingName } from "@/lib/core/metrology/reading-name";
import { formatReading } from "@/lib/format/reading-text";
import { Button } from "@/lib/ui/button";
import { PLAN_WORDS } from "../../words/plans";
import styles from "./plan.module.css";

const words = PLAN_WORDS.order;

type OrderListProps = Readonly<{
  order: readonly string[];
  at: number;
  onAt: (at: number) => void;
  onMove: (from: number, to: number) => void;
}>;

/** Words of a reading in the list. */
function wordsOf(text: string): string {
  const name = parseReadingName(text);
  if (!name.ok) return text;
  const { title, detail } = formatReading(name.value, "ds");
  return `${title}, ${detail}`;
}

/** The order of keying: arrows go through it, Alt with an arrow moves the reading, Home and End go to its ends. */
export function OrderList({ order, at, onAt, onMove }: OrderListProps) {
  const list = useRef<HTMLUListElement>(null);

  function show(place: number) {
    list.current?.children[place]?.scrollIntoView({ block: "nearest" });
  }
  function handleKeyDown(event: KeyboardEvent) {
    const steps: Readonly<Record<string, number>> = {
      ArrowUp: at - 1,
      ArrowDown: at + 1,
      Home: 0,
      End: order.length - 1,
      PageUp: at - 10,
      PageDown: at + 10,
    };
    const wanted = steps[event.key];
    if (wanted === undefined) return;
    event.preventDefault();
    const to = Math.max(0, Math.min(order.length - 1, wanted));
    if (event.altKey) onMove(at, to);
    else onAt(to);
    show(to);
  }
  return (
    <>
      <ul
        ref={list}
        className={styles.order}
        role="listbox"
        tabIndex={0}
        aria-label={words.orderOfKeying}
        aria-describedby="order-keys"
        aria-activedescendant={order.length > 0 ? `reading-${at}` : undefined}
        onKeyDown={handleKeyDown}
      >
        {order.map((name, place) => (
          <li key={name} id={`reading-${place}`} role="option" aria-selected={place === at} onClick={() => onAt(place)}>
            <span className={styles.place}>{place + 1}</span>
            <span>{wordsOf(name)}</span>
            <code className="mono">{name}</code>
          </li>
        ))}
      </ul>
      <div className={styles.steps}>
        <Button disabled={at <= 0} onClick={() => onMove(at, at - 1)}>
          {words.moveEarlier}
        </Button>
        <Button disabled={at >= order.length - 1} onClick={() => onMove(at, at + 1)}>
          {words.moveLater}
        </Button>
        <span id="order-keys" className={styles.note}>
          {words.arrowKeysChoose}
        </span>
      </div>
    </>
  );
}
