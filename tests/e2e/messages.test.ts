import type { Browser, BrowserContext } from "playwright-core";
import { Webhook } from "standardwebhooks";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { parseReadingName, READING_UNIT } from "@/lib/core/metrology/reading-name";
import { DEMO_SIGN_INS } from "@/lib/schemas/demo-sign-ins";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { StationKit } from "@/lib/schemas/station-package";
import { launchBrowser } from "../helpers/browser";
import { startMailServer, type MailBox } from "../helpers/mail-server";
import { axeViolations, signedIn } from "../helpers/signed-in";
import { startReceiver, type WebhookReceiver } from "../helpers/webhook-receiver";

let browser: Browser;
let box: MailBox;
let receiver: WebhookReceiver;
beforeAll(async () => {
  browser = await launchBrowser();
  box = await startMailServer();
  receiver = await startReceiver();
});
afterAll(async () => {
  await browser.close();
  await box.close();
  await receiver.close();
});

/** A frame of a batch that is not held, measured with one bore 0.3 mm over the middle of its limits. */
async function badInspection(context: BrowserContext) {
  const base = inject("appAddress");
  const { stations } = (await (await context.request.get(`${base}/api/v1/line/stations`)).json()) as {
    stations: { id: string }[];
  };
  for (const station of stations) {
    const kit = (await (await context.request.get(`${base}/api/v1/line/stations/${station.id}`)).json()) as StationKit;
    for (const { batch, frames } of kit.frames) {
      const frame = frames.find(({ inspections, leaseDeviceId }) => inspections === 0 && leaseDeviceId === null);
      const plan = kit.plans.find((one) => one.planId === kit.batches.find(({ key }) => key === batch)?.planId);
      if (!frame || !plan) continue;
      const page = await context.request.get(`${base}/api/v1/gate/batches/${batch}`);
      if ((await page.text()).includes('"held"')) continue;
      const bore = plan.drawing.characteristics.find(({ name }) => name === "bore");
      const middle = ((bore?.lower ?? 0) + (bore?.upper ?? 0)) / 2;
      const readings = plan.readingNames.map((text) => {
        const name = parseReadingName(text);
        if (!name.ok || READING_UNIT[name.value.kind] === null) return null;
        if (name.value.kind === "bore") return middle + 0.3;
        return name.value.kind === "width" ? plan.drawing.widthMm : 0;
      });
      return {
        batch,
        inspection: {
          id: uuidV7(),
          serial: frame.serial,
          batch,
          stationId: station.id,
          planRevisionId: plan.planRevisionId,
          readings,
          states: plan.readingNames.map(() => "confirmed"),
          gauges: plan.readingNames.map((text) => {
            const name = parseReadingName(text);
            return kit.gauges.find(({ kind }) => name.ok && kind === name.value.kind)?.key ?? null;
          }),
          deviceTime: new Date().toISOString(),
        },
      };
    }
  }
  throw new Error("no frame of the demo plant is left");
}

/** A worker does it within a second or two; a busy machine takes longer. */
const SOON = { timeout: 30_000 };

describe("messages", () => {
  it("a batch that is held reaches a mailbox, a program and the list of who can act", async () => {
    const base = inject("appAddress");
    const { context, page } = await signedIn(browser, base, "administrator");
    await page.goto(`${base}/setup/messages`);
    expect(await axeViolations(page)).toEqual([]);

    await page.getByLabel("server").fill("127.0.0.1");
    await page.getByLabel("port").fill(String(box.port));
    await page.getByLabel("on the way").selectOption("none");
    await page.getByLabel("mails come from").fill("shellgate@plant.example");
    await page.getByRole("button", { name: "Enter the mail server" }).click();
    await page.getByRole("button", { name: "Send me a mail to try it" }).click();
    await page.getByText(/^The mail server took it: 250/).waitFor();
    const own = DEMO_SIGN_INS.find(({ roles }) => roles.includes("administrator"))?.email;
    expect(box.taken.map(({ to }) => to)).toEqual([[own]]);

    await page.getByLabel("may call the plant's own network").check();
    await page.getByRole("button", { name: "Change these" }).click();
    await page.getByText("Changed, and recorded in the journal.", { exact: true }).waitFor();
    await page.getByLabel("what it is for").fill("warehouse");
    await page.getByLabel("address").fill(receiver.url);
    await page.getByRole("button", { name: "Add the webhook" }).click();
    const secret = await page.locator("[role=status] code").innerText();
    expect(await axeViolations(page)).toEqual([]);

    const inspector = await signedIn(browser, base, "inspector");
    const { batch, inspection } = await badInspection(inspector.context);
    const recorded = await inspector.context.request.post(`${base}/api/v1/inspections`, {
      data: inspection,
      headers: { origin: base },
    });
    expect(recorded.status(), await recorded.text()).toBe(200);
    await inspector.context.close();

    const title = `Batch ${batch} is held`;
    await expect
      .poll(() => box.taken.filter(({ message }) => message.includes(`Subject: ${title}`)).length, SOON)
      .toBe(2);
    const mail = box.taken.at(-1)?.message.replace(/=\r\n/g, "") ?? "";
    expect(mail).toContain("was held automatically");
    expect(mail).toContain("No frame of it ships");
    // Whichever process of the plant sends it names the address that it is reached by.
    expect(mail).toContain(`/gate/batches/${batch}`);
    await expect.poll(() => receiver.calls.length, SOON).toBe(1);
    const { headers, body } = receiver.calls[0] ?? { headers: {}, body: "" };
    expect(new Webhook(secret).verify(body, headers)).toMatchObject({ type: "batch.held", data: { batch } });

    await page.reload();
    await page.getByRole("link", { name: "warehouse" }).click();
    await page.getByRole("cell", { name: "taken", exact: true }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole("button", { name: /^Send again/ }).click();
    await expect.poll(() => receiver.calls.length, SOON).toBe(2);
    expect(receiver.calls[1]?.headers["webhook-id"]).toBe(headers["webhook-id"]);

    const engineer = await signedIn(browser, base, "engineer");
    await engineer.page.goto(`${base}/gate`);
    await expect.poll(() => engineer.page.title(), SOON).toMatch(/^\(\d+\) Gate, Shellgate$/);
    await engineer.page.getByRole("link", { name: /^For me/ }).click();
    await engineer.page.getByRole("link", { name: title, exact: true }).waitFor();
    expect(await axeViolations(engineer.page)).toEqual([]);
    await engineer.page.getByRole("button", { name: `Acknowledge: ${title}` }).click();
    await engineer.page.getByRole("rowheader", { name: title }).waitFor();
    await engineer.page.getByRole("link", { name: title, exact: true }).click();
    await engineer.page.waitForURL(`${base}/gate/batches/${batch}`);
    await engineer.context.close();

    await page.goto(`${base}/setup/messages`);
    await page.getByRole("button", { name: /^Take it away/ }).click();
    await page.getByRole("button", { name: "Enter the mail server" }).waitFor();
    await context.close();
  });
});
