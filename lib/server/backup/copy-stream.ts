import "server-only";
import { once } from "node:events";
import type pg from "pg";

/** The parts of pg's connection that COPY needs (PostgreSQL manual, 54.2.6 COPY operations). */
type Connection = {
  readonly stream: NodeJS.ReadWriteStream & {
    readonly writableNeedDrain: boolean;
    readonly destroyed: boolean;
    pause: () => void;
    resume: () => void;
  };
  query: (text: string) => void;
  sendCopyFromChunk: (chunk: Buffer) => void;
  sendCopyFail: (words: string) => void;
  endCopyFrom: () => void;
};

/** Rows that may wait for their reader, bytes. */
const MOST_WAITING = 4 * 2 ** 20;
const PIECE_BYTES = 256 * 2 ** 10;

/** What pg asks of whatever it runs in its queue; everything that a COPY does not need does nothing. */
abstract class CopyStatement {
  readonly text: string;
  protected connection: Connection | null = null;
  readonly ended: Promise<void>;
  protected end!: () => void;
  protected fail!: (error: unknown) => void;

  constructor(text: string) {
    this.text = text;
    this.ended = new Promise((resolve, reject) => {
      this.end = resolve;
      this.fail = reject;
    });
    this.ended.catch(() => undefined);
  }
  submit(connection: Connection): void {
    this.connection = connection;
    connection.query(this.text);
  }
  handleError(error: unknown): void {
    this.fail(error);
  }
  handleReadyForQuery(): void {
    this.end();
  }
  handleRowDescription(): void {}
  handleDataRow(): void {}
  handlePortalSuspended(): void {}
  handleCommandComplete(_message: { readonly text: string }): void {}
  handleEmptyQuery(): void {}
  handleCopyInResponse(_connection: Connection): void {}
  handleCopyData(_message: { readonly chunk: Buffer }): void {}
}

class CopyOut extends CopyStatement {
  #waiting: Buffer[] = [];
  #bytes = 0;
  #wake: () => void = () => undefined;

  override handleCopyData({ chunk }: { readonly chunk: Buffer }): void {
    // The driver reads into one buffer again and again.
    this.#waiting.push(Buffer.from(chunk));
    this.#bytes += chunk.length;
    if (this.#bytes > MOST_WAITING) this.connection?.stream.pause();
    this.#wake();
  }
  async *rows(): AsyncGenerator<readonly Buffer[]> {
    let isOver = false;
    const over = this.ended.finally(() => {
      isOver = true;
      this.#wake();
    });
    over.catch(() => undefined);
    try {
      for (;;) {
        const rows = this.#waiting;
        this.#waiting = [];
        this.#bytes = 0;
        this.connection?.stream.resume();
        if (rows.length > 0) yield rows;
        else if (isOver) break;
        else await new Promise<void>((resolve) => (this.#wake = resolve));
      }
      await this.ended;
    } finally {
      // Whoever stops reading in the middle leaves a connection that can only be ended.
      this.connection?.stream.resume();
    }
  }
}

class CopyIn extends CopyStatement {
  readonly ready: Promise<void>;
  rows = 0;
  #isReady!: () => void;

  constructor(text: string) {
    super(text);
    this.ready = new Promise((resolve) => (this.#isReady = resolve));
  }
  override handleCopyInResponse(connection: Connection): void {
    this.connection = connection;
    this.#isReady();
  }
  override handleCommandComplete({ text }: { readonly text: string }): void {
    this.rows = Number(text.replace("COPY ", ""));
  }
  async send(chunk: Buffer): Promise<void> {
    const { connection } = this;
    if (connection === null) return;
    connection.sendCopyFromChunk(chunk);
    if (connection.stream.writableNeedDrain) await Promise.race([once(connection.stream, "drain"), this.ended]);
  }
  async finish(): Promise<number> {
    this.connection?.endCopyFrom();
    await this.ended;
    return this.rows;
  }
}

const submit = (client: pg.Client, statement: CopyStatement): void => {
  // Its types know queries of their own classes only.
  client.query(statement as unknown as pg.Submittable);
};

/**
 * Rows of a table or query, as COPY spells them: each Buffer is one row with the end of its line.
 *
 * @param client - without other statements until the last row was read
 * @param text - `copy ... to stdout`; from the sources, names quoted
 */
export async function* copyOut(client: pg.Client, text: string): AsyncGenerator<readonly Buffer[]> {
  const statement = new CopyOut(text);
  submit(client, statement);
  yield* statement.rows();
}

/**
 * Loads whole rows as COPY spells them.
 *
 * @param text - `copy ... from stdin`; from the sources, names quoted
 * @returns how many rows there were
 * @throws what the server refused
 */
export async function copyIn(client: pg.Client, text: string, rows: Buffer): Promise<number> {
  const statement = new CopyIn(text);
  submit(client, statement);
  await Promise.race([statement.ready, statement.ended]);
  for (let at = 0; at < rows.length; at += PIECE_BYTES) await statement.send(rows.subarray(at, at + PIECE_BYTES));
  return statement.finish();
}
