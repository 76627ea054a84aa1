import { type ComponentType, createElement, type ReactNode, useEffect, useSyncExternalStore } from "react";
import type { LaterPart } from "@/lib/offline/later-part";

const RETRY_MS = 2000;

/** The part once it is there; it is loaded until it is. */
export function useLater<T>(part: LaterPart<T>): T | null {
  const loaded = useSyncExternalStore(part.subscribe, part.now, part.now);
  useEffect(() => {
    if (loaded !== null) return;
    let timer: ReturnType<typeof setTimeout> | undefined;
    const load = (): void => {
      part.load().catch(() => {
        timer = setTimeout(load, RETRY_MS);
      });
    };
    load();
    return () => clearTimeout(timer);
  }, [part, loaded]);
  return loaded;
}

/** A screen that is loaded later: shown at once where it is there already. */
export function laterScreen<Props extends object>(part: LaterPart<ComponentType<Props>>) {
  return function LaterScreen({ waiting = null, ...props }: Props & Readonly<{ waiting?: ReactNode }>) {
    const screen = useLater(part);
    return screen === null ? waiting : createElement(screen, props as unknown as Props);
  };
}
