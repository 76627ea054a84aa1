import "server-only";
import type pg from "pg";
import { log } from "../base/log";
import { count } from "../base/metrics";
import { currentRequestId } from "../base/request-context";

const SHOWN_LETTERS = 400;

type Query = (...args: unknown[]) => unknown;

/** Which statement it is: its name, and its text without any value. */
function whichOf(statement: unknown): Readonly<Record<string, unknown>> {
  const text = typeof statement === "string" ? statement : (statement as { text?: unknown } | null)?.text;
  const name = (statement as { name?: unknown } | null)?.name;
  const shown = typeof text === "string" ? text.replaceAll(/\s+/g, " ").slice(0, SHOWN_LETTERS) : "unknown";
  return { ...(typeof name === "string" ? { statement: name } : {}), text: shown };
}

/**
 * Logs and counts statements of a connection that take long.
 *
 * @param slowMs - from how many ms on
 */
export function watchStatements(client: pg.PoolClient, slowMs: number): void {
  const query = client.query.bind(client) as Query;
  const watched: Query = (...args) => {
    const from = performance.now();
    // The pool is answered by a call that belongs to the connection, no request.
    const requestId = currentRequestId();
    const look = (): void => {
      const ms = Math.round(performance.now() - from);
      if (ms < slowMs) return;
      count("shellgate_database_slow_statements", "Statements that took longer than SHELLGATE_SLOW_MS.");
      log.warn("a statement took long", { ms, ...(requestId === undefined ? {} : { requestId }), ...whichOf(args[0]) });
    };
    const last = args.at(-1);
    if (typeof last === "function") {
      const answer = last as Query;
      return query(...args.slice(0, -1), (...given: unknown[]) => {
        look();
        answer(...given);
      });
    }
    const answer = query(...args);
    if (answer instanceof Promise) answer.then(look, look);
    return answer;
  };
  client.query = watched as typeof client.query;
}
