import "server-only";
import path from "node:path";
import { z } from "zod";

const flag = z
  .enum(["0", "1"])
  .default("0")
  .transform((value) => value === "1");

/**
 * What a server process is told through its environment. The start command sets all of it; whoever runs the
 * application processes by hand sets DATABASE_URL, AUTH_SECRET and SHELLGATE_ORIGIN.
 */
const environmentSchema = z.object({
  NODE_ENV: z.enum(["development", "production", "test"]).default("development"),
  DATABASE_URL: z.string().regex(/^postgres(ql)?:\/\//, "must begin with postgresql://"),
  /** Connections that one process keeps at most. */
  DATABASE_POOL_MAX: z.coerce.number().int().min(2).max(200).default(12),
  /** Folder of the plant's own files: database, keys, attachments. */
  SHELLGATE_DATA: z
    .string()
    .default(".data")
    .transform((folder) => path.resolve(/* turbopackIgnore: true */ folder)),
  /** Folder of backups that are given no name; empty: beside that of the plant. */
  SHELLGATE_BACKUPS: z.string().default(""),
  /** Encrypts backups of the schedule; empty: they are not. */
  SHELLGATE_BACKUP_PASSPHRASE: z.string().default(""),
  /** The address people type, e.g. https://plant.example:3000. */
  SHELLGATE_ORIGIN: z.url().default("http://localhost:3000"),
  /** Further addresses that are as good, comma separated. */
  SHELLGATE_OTHER_ORIGINS: z
    .string()
    .default("")
    .transform((list) =>
      list
        .split(",")
        .map((origin) => origin.trim())
        .filter((origin) => origin !== ""),
    )
    .pipe(z.array(z.url("must be addresses such as https://plant.example, comma separated"))),
  /** File of a certificate that the plant brings itself. */
  TLS_CERT: z.string().default(""),
  /** Signs sessions; the start command keeps one beside the data. */
  AUTH_SECRET: z.string().min(32),
  /** 1 when a proxy of ours sets x-forwarded-for; without it that header is the visitor's own claim. */
  SHELLGATE_FORWARDED: flag,
  /** 1 when the sign-ins of the demo plant may be used. */
  SHELLGATE_DEMO_SIGN_INS: flag,
  /** 1 when they may be used from other machines too, by whoever can reach this address. */
  SHELLGATE_DEMO_ON_NETWORK: flag,
  /** Minutes without a request after which a person has to sign in again. */
  SHELLGATE_IDLE_MINUTES: z.coerce.number().int().min(5).max(1440).default(240),
  /** ms from which on a statement of the database is logged. */
  SHELLGATE_SLOW_MS: z.coerce.number().int().min(1).max(600_000).default(1000),
  LOG_LEVEL: z.enum(["debug", "info", "warn", "error"]).default("info"),
});

export type Environment = z.infer<typeof environmentSchema>;

/**
 * Reads one variable; the others may be missing, so that a build or a command line needs only what it uses.
 *
 * @throws Error naming the variable and what it must be
 */
export function environment<Name extends keyof Environment>(name: Name): Environment[Name] {
  const result = environmentSchema.shape[name].safeParse(process.env[name]);
  if (!result.success) {
    const why =
      process.env[name] === undefined ? "is not set" : result.error.issues.map((issue) => issue.message).join("; ");
    throw new Error(`environment: ${name} ${why}`);
  }
  return result.data as Environment[Name];
}
