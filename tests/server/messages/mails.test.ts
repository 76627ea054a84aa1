import net from "node:net";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { getJournal } from "@/lib/server/audit/journal-page";
import { listMessages } from "@/lib/server/messages/inbox";
import { messageFile } from "@/lib/server/messages/message-file";
import { sendDueMails } from "@/lib/server/messages/send-mails";
import {
  addSubscription,
  changeMailServer,
  removeMailServer,
  sendMailAgain,
  tryMailServer,
} from "@/lib/server/messages/sending-commands";
import { getSending } from "@/lib/server/messages/sending-queries";
import { tellEvents } from "@/lib/server/messages/tell-events";
import { writeEvents } from "@/lib/server/outbox/write-events";
import type { Viewer } from "@/lib/server/auth/viewer";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { startMailServer, type MailBox } from "../../helpers/mail-server";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { createSignIn, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let engineer: Viewer & { kind: "person" };
let address = "";
const open: MailBox[] = [];

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 1 });
  address = `${uuidV7()}@plant.example`;
  engineer = await createSignIn(plant.system, address, "engineer", "administrator");
});
afterEach(async () => {
  for (const box of open.splice(0)) await box.close();
});

async function mailServer(options?: Parameters<typeof startMailServer>[0]): Promise<MailBox> {
  const box = await startMailServer(options);
  open.push(box);
  await enterServer(box.port);
  return box;
}
const enterServer = (port: number, change: object = {}) =>
  changeMailServer(plant.system, {
    host: "127.0.0.1",
    port,
    security: "none",
    from: "shellgate@plant.example",
    ...change,
  });

async function gaugeFails(gauge: string): Promise<void> {
  const payload = { gauge, driftUm: 8, limitUm: 3, heldFrames: 0, heldBatches: 0, escapes: 0 };
  await inSqlTransaction((db) => writeEvents(db, plant.plantId, [{ topic: "gauge.failed", payload }], new Date()));
  await tellEvents(plant.plantId);
}
async function deliveries() {
  const { rows } = await getPool().query<{ state: string; attempts: number; answer: string | null; id: string }>(sql`
    select id, state, attempts, answer from mail_delivery where plant_id = ${plant.plantId} order by id`);
  return rows;
}
const later = (minutes: number) => ({ clock: () => new Date(Date.now() + minutes * 60_000) });
const unfolded = (message: string): string => message.replace(/\r\n[ \t]/g, " ");
const header = (message: string, name: string): string =>
  new RegExp(`^${name}: (.*)$`, "mi").exec(unfolded(message.split("\r\n\r\n")[0] ?? ""))?.[1] ?? "";

describe("a mail", () => {
  it("says in plain text and HTML what happened, what to do, and where", async () => {
    const box = await mailServer();
    await gaugeFails("BG-1");
    expect(await sendDueMails(plant.plantId)).toBeNull();
    expect(box.taken).toHaveLength(1);
    const { to, message } = box.taken[0] ?? { to: [], message: "" };
    expect(to).toEqual([address]);
    expect(header(message, "Subject")).toBe("Gauge BG-1 failed its zero check");
    expect(header(message, "From")).toBe("Shellgate Test plant <shellgate@plant.example>");
    expect(header(message, "Auto-Submitted")).toBe("auto-generated");
    expect(header(message, "Content-Type")).toMatch(/^multipart\/alternative/);
    const text = message.replace(/=\r\n/g, "");
    expect(text).toContain("Take the gauge out of use");
    expect(text).toContain("http://localhost:3000/setup/gauges/BG-1");
    expect(text).toContain("prefers-color-scheme: dark");
    expect(await deliveries()).toMatchObject([{ state: "sent", attempts: 1 }]);
  });

  it("is one for all that waits for the same moment", async () => {
    const box = await mailServer();
    const add = { kinds: ["gauge.due"], channel: "mail" as const, timing: "shift start" as const };
    await addSubscription(plant.system, { ...add, personId: engineer.personId });
    for (const gauge of ["A-1", "A-2"]) {
      const payload = { gauge, dueAt: "2026-12-01T00:00:00Z", overdue: false };
      await inSqlTransaction((db) => writeEvents(db, plant.plantId, [{ topic: "gauge.due", payload }], new Date()));
    }
    await tellEvents(plant.plantId);
    await sendDueMails(plant.plantId);
    expect(box.taken).toHaveLength(0);
    await sendDueMails(plant.plantId, later(25 * 60));
    expect(box.taken).toHaveLength(1);
    expect(header(box.taken[0]?.message ?? "", "Subject")).toBe("2 messages: Gauge A-1 is due soon and others");
  });

  it("cannot have a header put into it by what it is about", async () => {
    const box = await mailServer();
    await gaugeFails("X\r\nBcc: all@plant.example\r\n\r\nGo away");
    await sendDueMails(plant.plantId);
    const { to, message } = box.taken[0] ?? { to: [], message: "" };
    expect(to).toEqual([address]);
    expect(message.split("\r\n\r\n")[0]).not.toMatch(/^Bcc:/im);
    expect(header(message, "Subject")).toBe("Gauge X Bcc: all@plant.example Go away failed its zero check");
    const settings = { host: "mail.plant.example", port: 25, security: "none" } as const;
    for (const from of ["a@plant.example\r\nBcc: b@plant.example", "a@plant.example, b@plant.example", "no address"])
      await expect(changeMailServer(plant.system, { ...settings, from })).rejects.toMatchObject({
        code: "invalid-input",
      });
  });

  it("is a file that a mail program opens, without any server", async () => {
    await gaugeFails("BG-1");
    const id = (await listMessages(engineer)).open[0]?.id ?? "";
    const file = (await messageFile(engineer, id)).toString("utf8");
    expect(header(file, "Subject")).toBe("Gauge BG-1 failed its zero check");
    expect(header(file, "To")).toContain(address);
    expect(header(file, "Message-ID")).toBe(`<${id}@plant.invalid>`);
    expect(await deliveries()).toEqual([]);
    await expect(messageFile(await plant.as("dock"), id)).rejects.toMatchObject({ code: "not-found" });
  });
});

describe("a mail server", () => {
  it("that refuses one recipient keeps nobody else from being told, and is asked no more for that one", async () => {
    const other = await createSignIn(plant.system, `refused-${uuidV7()}@plant.example`, "engineer");
    const box = await mailServer({
      onRcptTo: ({ address: to }, _session, done) =>
        to.startsWith("refused")
          ? done(Object.assign(new Error("no such mailbox here"), { responseCode: 550 }))
          : done(),
    });
    await gaugeFails("BG-1");
    await sendDueMails(plant.plantId);
    expect(box.taken.map(({ to }) => to)).toEqual([[address]]);
    const { unsent } = await getSending(plant.system);
    expect(unsent).toMatchObject([
      {
        person: other.name,
        state: "failed",
        answer: "The mail server refused the sender or the recipient: 550 no such mailbox here",
      },
    ]);
  });

  it("that refuses for now is asked again, with the same number, later each time", async () => {
    let refusals = 2;
    const numbers: string[] = [];
    const box = await mailServer({
      onMailFrom: (_from, _session, done) =>
        refusals-- > 0 ? done(Object.assign(new Error("busy, try later"), { responseCode: 451 })) : done(),
    });
    await gaugeFails("BG-1");
    const next = await sendDueMails(plant.plantId);
    expect(next?.getTime()).toBeGreaterThan(Date.now() + 50_000);
    expect(await deliveries()).toMatchObject([
      { state: "waiting", attempts: 1, answer: expect.stringMatching(/451 busy/) },
    ]);
    await sendDueMails(plant.plantId);
    expect(await deliveries()).toMatchObject([{ attempts: 1 }]);
    await sendDueMails(plant.plantId, later(2));
    await sendDueMails(plant.plantId, later(10));
    numbers.push(...box.taken.map(({ message }) => header(message, "Message-ID")));
    expect(numbers).toEqual([`<${(await deliveries())[0]?.id}@plant.example>`]);
  });

  it("that refuses all day is given up, seen in Setup, and tried again by a person", async () => {
    const box = await mailServer();
    await box.close();
    open.length = 0;
    await gaugeFails("BG-1");
    for (let hour = 0; hour < 60; hour += 1) await sendDueMails(plant.plantId, later(hour * 60));
    const [failed] = (await getSending(plant.system)).unsent;
    expect(failed).toMatchObject({
      state: "failed",
      attempts: 8,
      answer: expect.stringMatching(/cannot be reached|ECONNREFUSED/),
    });
    const working = await mailServer();
    await sendMailAgain(plant.system, { id: failed?.id ?? "" });
    await sendDueMails(plant.plantId, later(1));
    expect(working.taken).toHaveLength(1);
  });

  it("that dies after the mail and before it said so gets it again, with the same number", async () => {
    const seen: string[] = [];
    const box = await mailServer({
      onData(stream, _session, done) {
        const parts: Buffer[] = [];
        stream.on("data", (part: Buffer) => parts.push(part));
        stream.on("end", () => {
          seen.push(header(Buffer.concat(parts).toString("utf8"), "Message-ID"));
          if (seen.length === 1) box.breakOff();
          else done();
        });
      },
    });
    await gaugeFails("BG-1");
    await sendDueMails(plant.plantId);
    expect(await deliveries()).toMatchObject([
      { state: "waiting", answer: expect.stringMatching(/broken off|broke the connection off/) },
    ]);
    await sendDueMails(plant.plantId, later(2));
    expect(seen).toHaveLength(2);
    expect(seen[0]).toBe(seen[1]);
    expect(await deliveries()).toMatchObject([{ state: "sent", attempts: 2 }]);
  });

  it("that breaks the connection off half way, or is no mail server, is named as such", async () => {
    const talk = async (answer: (socket: net.Socket) => void): Promise<string> => {
      const server = net.createServer((socket) => {
        socket.on("error", () => undefined);
        answer(socket);
      });
      await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
      await enterServer((server.address() as net.AddressInfo).port);
      const words = await tryMailServer(engineer).then(
        (said) => said,
        (error: { userMessage: string }) => error.userMessage,
      );
      await new Promise((resolve) => server.close(resolve));
      return words;
    };
    const cut = await talk((socket) => {
      socket.write("220 mail\r\n");
      socket.once("data", () => socket.destroy());
    });
    expect(cut).toMatch(
      /^The (mail server cannot be reached, or broke|connection to the mail server was broken).* No mail was sent\./,
    );
    const web = await talk((socket) => socket.end("HTTP/1.1 400 Bad Request\r\n\r\n"));
    expect(web).toMatch(/^What answered does not speak as a mail server does: .* No mail was sent\./);
  });

  it("that is slow is waited for, and a command is not", async () => {
    const box = await mailServer({ onMailFrom: (_from, _session, done) => setTimeout(() => done(), 1_500) });
    const began = performance.now();
    await gaugeFails("BG-1");
    const told = performance.now() - began;
    const sending = sendDueMails(plant.plantId);
    await gaugeFails("BG-2");
    await sending;
    await sendDueMails(plant.plantId);
    expect(told).toBeLessThan(1_500);
    expect(box.taken).toHaveLength(2);
  });

  it("is tried by a button that says what it answered", async () => {
    await expect(tryMailServer(engineer)).rejects.toMatchObject({
      userMessage: "There is no mail server yet. Enter it first.",
    });
    const box = await mailServer();
    expect(await tryMailServer(engineer)).toMatch(/^The mail server took it: 250 .*mailbox of .*@plant\.example/);
    expect(header(box.taken[0]?.message ?? "", "Subject")).toBe("Mail from Shellgate works");
    const locked = await mailServer({
      authOptional: false,
      allowInsecureAuth: true,
      onAuth: ({ username, password }, _session, done) =>
        username === "plant" && password === "right"
          ? done(null, { user: username })
          : done(Object.assign(new Error("wrong password"), { responseCode: 535 })),
    });
    await enterServer(locked.port, { user: "plant", password: "wrong" });
    await expect(tryMailServer(engineer)).rejects.toMatchObject({
      userMessage: expect.stringMatching(/^The mail server refused the user or the password: .*wrong password/),
    });
    await enterServer(locked.port, { user: "plant", password: "right" });
    expect(await tryMailServer(engineer)).toMatch(/^The mail server took it/);
    // Neither the page nor the journal knows the password; the database has it encrypted.
    expect(JSON.stringify(await getSending(engineer))).not.toContain("right");
    expect(JSON.stringify(await getJournal(plant.system))).not.toMatch(/right|wrong/);
    const { rows } = await getPool().query<{ password: Buffer }>(sql`
      select mail_password as password from message_setting where plant_id = ${plant.plantId}`);
    expect(rows[0]?.password.toString("latin1")).not.toContain("right");
  });

  it("keeps its password only where server and user stay", async () => {
    await enterServer(2525, { user: "plant", password: "right" });
    await enterServer(2526, { user: "plant" });
    await expect(enterServer(2525, { user: "plant", host: "elsewhere.example" })).rejects.toMatchObject({
      code: "invalid-input",
      fields: [{ path: "password" }],
    });
    await expect(enterServer(2525, { password: "right" })).rejects.toMatchObject({ fields: [{ path: "user" }] });
  });

  it("that is taken away takes along what waits", async () => {
    await mailServer();
    await gaugeFails("BG-1");
    await removeMailServer(plant.system);
    expect(await deliveries()).toEqual([]);
    expect(await sendDueMails(plant.plantId)).toBeNull();
  });
});
