import { parseArgs, type ParseArgsConfig } from "node:util";

/**
 * The arguments of a command. Where they are not what it takes it says so with its usage, and ends with 1; nothing was done then.
 *
 * @param usage - what `--help` says
 */
export function readArguments<const C extends ParseArgsConfig>(
  usage: string,
  config: C,
): ReturnType<typeof parseArgs<C>> {
  try {
    return parseArgs(config);
  } catch (error) {
    process.stderr.write(`${error instanceof Error ? error.message : String(error)}\nNothing was done.\n\n${usage}\n`);
    process.exit(1);
  }
}
