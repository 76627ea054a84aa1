import "server-only";
import type { IncomingMessage } from "node:http";

/**
 * Looks at the whole body of a request and puts it back, so that whoever comes next reads it as if nobody had. Where the sender
 * breaks off, nothing follows.
 *
 * @param length - bytes of the body as its sender says, at least 1
 * @param look - throws what is said to the sender
 */
export function lookAhead(
  request: IncomingMessage,
  length: number,
  look: (body: Buffer) => void,
  goOn: () => void,
  refuse: (thrown: unknown) => void,
): void {
  const chunks: Buffer[] = [];
  let read = 0;
  const onReadable = (): void => {
    for (let chunk = request.read() as Buffer | null; chunk !== null; chunk = request.read() as Buffer | null) {
      chunks.push(chunk);
      read += chunk.length;
    }
    if (read < length) return;
    request.off("readable", onReadable);
    const body = Buffer.concat(chunks);
    try {
      look(body);
    } catch (thrown) {
      refuse(thrown);
      return;
    }
    // Within the same turn: once the end was told, nothing can be put back.
    request.unshift(body);
    // Afterwards the stream knows that nobody listens, and takes the next listener for its first.
    setImmediate(goOn);
  };
  request.on("readable", onReadable);
}
