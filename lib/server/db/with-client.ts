import "server-only";
import pg from "pg";
import { AppError } from "@/lib/errors";

/**
 * Runs work on a connection of its own.
 *
 * @param variable - where the address comes from, as the person is told who has to mend it
 * @throws AppError unavailable when the server cannot be reached
 */
export async function withClient<T>(
  url: string,
  variable: string,
  work: (client: pg.Client) => Promise<T>,
): Promise<T> {
  const client = new pg.Client({ connectionString: url, connectionTimeoutMillis: 10_000 });
  try {
    await client.connect();
  } catch (error) {
    const reason =
      error instanceof Error ? error.message || String((error as NodeJS.ErrnoException).code) : String(error);
    throw new AppError(
      "unavailable",
      `The database server cannot be reached: ${reason}. Check ${variable} and that the server runs.`,
      { cause: error },
    );
  }
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}
