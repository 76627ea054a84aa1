"use client";

import { useRouter } from "next/navigation";
import { useEffect } from "react";

const EVERY_MS = 1500;

/** Fetches the page again and again while something on it is being done. */
export function FetchAgain() {
  const router = useRouter();
  useEffect(() => {
    const timer = setInterval(() => router.refresh(), EVERY_MS);
    return () => clearInterval(timer);
  }, [router]);
  return null;
}
