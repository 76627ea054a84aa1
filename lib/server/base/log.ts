import "server-only";
import { environment } from "./env";
import { currentRequestId } from "./request-context";

const LEVELS = { debug: 10, info: 20, warn: 30, error: 40 } as const;
type Level = keyof typeof LEVELS;
type Details = Readonly<Record<string, unknown>>;

const SECRET_NAME = /password|secret|token|cookie|authorization|credential/i;

function withoutSecrets(name: string, value: unknown): unknown {
  if (SECRET_NAME.test(name)) return "[hidden]";
  if (typeof value === "bigint") return value.toString();
  if (!(value instanceof Error)) return value;
  const { message, stack, cause } = value;
  return { name: value.name, message, stack, ...(cause === undefined ? {} : { cause }) };
}

function write(level: Level, message: string, details: Details): void {
  if (LEVELS[level] < LEVELS[environment("LOG_LEVEL")]) return;
  const requestId = currentRequestId();
  const request = requestId === undefined ? {} : { requestId };
  const line = JSON.stringify(
    { time: new Date().toISOString(), level, message, ...request, ...details },
    withoutSecrets,
  );
  process.stderr.write(`${line}\n`);
}

/** One JSON line an event on standard error; values under names such as password or token are hidden. */
export const log = {
  debug: (message: string, details: Details = {}): void => write("debug", message, details),
  info: (message: string, details: Details = {}): void => write("info", message, details),
  warn: (message: string, details: Details = {}): void => write("warn", message, details),
  error: (message: string, details: Details = {}): void => write("error", message, details),
};
