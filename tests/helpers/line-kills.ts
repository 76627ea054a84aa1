import { setTimeout as sleep } from "node:timers/promises";
import type { Browser, BrowserContext, Page } from "playwright-core";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { launchBrowser } from "./browser";
import { type LinePlant, startLinePlant } from "./line-plant";
import { type LineSight, openLine, untilSeen, waitForWorker } from "./line-sight";
import type { TestPlant } from "./plant";

/** What is done to the Line while it is being keyed into; one of several of a kind is the likelier. */
const KILLS = [
  ...Array.from({ length: 5 }, () => "page closed" as const),
  ...Array.from({ length: 2 }, () => "page crashed" as const),
  ...Array.from({ length: 3 }, () => "page reloaded" as const),
  ...Array.from({ length: 3 }, () => "worker stopped" as const),
  ...Array.from({ length: 4 }, () => "network cut" as const),
  ...Array.from({ length: 2 }, () => "server stopped" as const),
  "database stopped" as const,
];
export type Kill = (typeof KILLS)[number];
/** Before the number is keyed, half way through it, at once after its Enter, or when its answer is there. */
const MOMENTS = ["before", "half way", "at Enter", "after"] as const;
type Moment = (typeof MOMENTS)[number];

export type KillRunOptions = {
  readonly seed: number;
  readonly stations: number;
  /** Frames of each station. */
  readonly frames: number;
  /** Kills of each station. */
  readonly kills: number;
  /** No frame is begun after so long, ms. */
  readonly budgetMs?: number;
  readonly tell?: (line: string) => void;
};

export type KillRunResult = {
  readonly frames: number;
  readonly readings: number;
  readonly kills: Readonly<Partial<Record<Kill, number>>>;
  /** Entered, the device killed at once, and asked for again: never more than the one being typed. */
  readonly keyedAgain: number;
  /** What is wrong, in words; empty where every finished reading arrived exactly once, in order. */
  readonly faults: readonly string[];
};

type PlannedKill = { readonly kill: Kill; readonly moment: Moment };

/** Kills by frame and place; place -1 is the scan, the last place the reading that ends the frame. */
function planKills(random: SeededGenerator, frames: number, readings: number, kills: number) {
  const planned = new Map<string, PlannedKill>();
  const below = (n: number) => random.uint32() % n;
  while (planned.size < Math.min(kills, frames * (readings + 1))) {
    const frame = below(frames);
    // The scan and the end of a frame are where most is written: every third kill falls on one of them.
    const place = below(3) === 0 ? [-1, readings - 1][below(2)] : below(readings);
    planned.set(`${frame} ${place}`, {
      kill: KILLS[below(KILLS.length)] ?? "page closed",
      moment: MOMENTS[below(MOMENTS.length)] ?? "before",
    });
  }
  return planned;
}

/** A value that conforms, another one for each frame and place. */
function valueOf(name: ReadingName, frame: number, index: number): string {
  const step = ((frame * 7 + index * 3) % 5) - 2;
  if (name.kind === "bore") return (40.975 + step / 1000).toFixed(3);
  return name.kind === "width" ? (86.5 + step / 100).toFixed(2) : String(Math.abs(step) % 2);
}

/** As long as an inspector waits before scanning again, ms; and how often they do. */
const SCAN_MS = 10_000;
const MOST_SCANS = 8;

const serialOf = (frame: number) => `T-${String(frame + 1).padStart(4, "0")}`;

/** Server and database of all stations: stopped and started one after the other. */
class Power {
  #acts: Promise<void> = Promise.resolve();
  #isOut = false;
  constructor(readonly plant: LinePlant) {}

  /** Stops it now and starts it after `ms`; false where it is out already. */
  cut(what: "server stopped" | "database stopped", ms: number): boolean {
    if (this.#isOut) return false;
    this.#isOut = true;
    const { plant } = this;
    this.#acts = this.#acts.then(async () => {
      await (what === "server stopped" ? plant.killApp() : plant.killDatabase());
      await sleep(ms);
      await (what === "server stopped" ? plant.startApp() : plant.startDatabase());
      this.#isOut = false;
    });
    return true;
  }

  back(): Promise<void> {
    return this.#acts;
  }
}

class Station {
  page!: Page;
  readonly kills: Partial<Record<Kill, number>> = {};
  readonly faults: string[] = [];
  keyedAgain = 0;
  finished = 0;
  #lastKill = "none";
  #backOnline: Promise<void> = Promise.resolve();
  readonly #planned: Map<string, PlannedKill>;

  constructor(
    readonly name: string,
    readonly address: string,
    readonly context: BrowserContext,
    readonly plant: TestPlant,
    readonly power: Power,
    readonly random: SeededGenerator,
    options: KillRunOptions,
  ) {
    this.#planned = planKills(random, options.frames, plant.names.length, options.kills);
  }

  /** Uniform integer below n. */
  #below(n: number): number {
    return this.random.uint32() % n;
  }

  async open(): Promise<void> {
    this.page = await openLine(this.context, this.address);
    await this.page.getByRole("button", { name: "Station 1" }).click();
    await untilSeen(this.page, ({ at }) => at === "choose", "the station's frames");
    await waitForWorker(this.page);
  }

  async #reopen(): Promise<void> {
    this.page = await openLine(this.context, this.address);
  }

  async #kill(kill: Kill): Promise<void> {
    const { page, context, power } = this;
    if (kill === "page closed") {
      await page.close();
      await this.#reopen();
    } else if (kill === "page crashed") {
      const cdp = await context.newCDPSession(page);
      const crashed = page.waitForEvent("crash");
      void cdp.send("Page.crash").catch(() => undefined);
      await crashed;
      await page.close();
      await this.#reopen();
    } else if (kill === "page reloaded") {
      await page.reload({ waitUntil: "commit" });
    } else if (kill === "worker stopped") {
      const cdp = await context.newCDPSession(page);
      await cdp.send("ServiceWorker.enable");
      await cdp.send("ServiceWorker.stopAllWorkers");
      await cdp.detach();
      if (this.#below(2) === 0) await page.reload({ waitUntil: "commit" });
    } else if (kill === "network cut") {
      await this.#backOnline;
      await context.setOffline(true);
      const ms = 300 + this.#below(8000);
      this.#backOnline = sleep(ms).then(() => context.setOffline(false).catch(() => undefined));
    } else if (!power.cut(kill, this.#below(3000))) return;
    this.kills[kill] = (this.kills[kill] ?? 0) + 1;
  }

  async #killAt(frame: number, place: number, moment: Moment): Promise<boolean> {
    const planned = this.#planned.get(`${frame} ${place}`);
    if (planned?.moment !== moment) return false;
    this.#planned.delete(`${frame} ${place}`);
    this.#lastKill = `${planned.kill} ${moment} reading ${place + 1} of ${serialOf(frame)}`;
    if (moment === "at Enter") await sleep(this.#below(25));
    await this.#kill(planned.kill);
    return true;
  }

  /** Scans until the frame is in hand; a scan that a kill swallowed is made again. */
  async #scan(frame: number): Promise<LineSight> {
    const serial = serialOf(frame);
    for (let scans = 0; scans < MOST_SCANS; scans += 1) {
      await this.#killAt(frame, -1, "before");
      const before = await this.#see(({ at }) => at !== "waiting", "Line to start");
      if (before.at === "keying") {
        if (before.serial !== serial) this.faults.push(`${before.serial} is in hand where ${serial} was to be scanned`);
        await this.#killAt(frame, -1, "after");
        return this.#see(({ at }) => at !== "waiting", "the frame in hand");
      }
      await this.#emptyField("main label input");
      await this.page.keyboard.type(serial);
      if (await this.#killAt(frame, -1, "half way")) continue;
      await this.page.keyboard.press("Enter");
      if (await this.#killAt(frame, -1, "at Enter")) continue;
      await untilSeen(this.page, ({ at }) => at === "keying", `${serial} in hand`, SCAN_MS).catch(() => null);
    }
    return this.#see(({ at }) => at === "keying", `${serial} in hand`);
  }

  #see(seen: (sight: LineSight) => boolean, what: string): Promise<LineSight> {
    return untilSeen(this.page, seen, `${what}, at ${this.name}, last kill ${this.#lastKill},`);
  }

  /** Keys one frame to its verdict, whatever happens in between. */
  async measure(frame: number): Promise<void> {
    const { names } = this.plant;
    let sight = await this.#scan(frame);
    let entered = -1;
    let shown = -1;
    while (sight.at === "keying") {
      const { asked } = sight;
      // What the screen had answered, and said to be kept, is not asked for again; what was being entered may be.
      if (asked < entered || asked <= shown) this.faults.push(`${serialOf(frame)} asks for reading ${asked + 1} again`);
      if (asked === entered) this.keyedAgain += 1;
      const name = names[asked];
      if (name === undefined) throw new Error(`there is no reading ${asked + 1}`);
      const text = valueOf(name, frame, asked);
      let isKilled = await this.#killAt(frame, asked, "before");
      if (!isKilled) {
        await this.page.keyboard.insertText(text.slice(0, 2));
        isKilled = await this.#killAt(frame, asked, "half way");
        if (!isKilled) {
          await this.page.keyboard.insertText(text.slice(2));
          await this.page.keyboard.press("Enter");
          entered = asked;
          isKilled = await this.#killAt(frame, asked, "at Enter");
        }
      }
      // A kill may leave the page as it is, with half a number in the field: the field is emptied before the next one.
      sight = await this.#see((now) => now.at !== "waiting", "Line to start");
      if (isKilled) await this.#emptyField("#reading");
      else
        sight = await this.#see(
          (now) => now.at === "verdict" || now.at === "choose" || (now.at === "keying" && now.asked > asked),
          `the answer to reading ${asked + 1} of ${serialOf(frame)}`,
        );
      if (isKilled) sight = await this.#settled(asked, entered);
      if (sight.at === "keying" && sight.kept !== null) shown = Math.max(shown, sight.kept - 1);
      if (await this.#killAt(frame, asked, "after")) sight = await this.#see((now) => now.at !== "waiting", "Line");
    }
    if (entered !== names.length - 1)
      this.faults.push(`${serialOf(frame)} left the screen after reading ${entered + 1}`);
    this.finished += 1;
  }

  async #emptyField(selector: string): Promise<void> {
    await this.page
      .evaluate((found) => {
        const field = document.querySelector<HTMLInputElement>(found);
        field?.focus();
        field?.select();
      }, selector)
      .catch(() => undefined);
    await this.page.keyboard.press("Delete");
  }

  /** After a kill, what is on the screen once an Enter that still ran has had its effect. */
  async #settled(asked: number, entered: number): Promise<LineSight> {
    if (entered === asked) await sleep(400);
    return this.#see((now) => now.at !== "waiting", "Line to start");
  }

  /** Until the device has nothing left to send. */
  async drain(timeoutMs: number): Promise<void> {
    await this.#backOnline;
    const deadline = performance.now() + timeoutMs;
    for (;;) {
      const left = await this.page.evaluate(waitingHere);
      if (left.waiting + left.sessions === 0) return;
      if (performance.now() > deadline) {
        this.faults.push(`${left.waiting} inspections and ${left.sessions} frames begun are left on the device`);
        return;
      }
      await sleep(300);
    }
  }
}

/** In the page: what the device's database still holds. */
async function waitingHere(): Promise<{ waiting: number; sessions: number }> {
  const database = await new Promise<IDBDatabase>((resolve, reject) => {
    const request = indexedDB.open("shellgate-line");
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(new Error(request.error?.message));
  });
  const transaction = database.transaction(["outbox", "sessions"]);
  const [waiting, sessions] = await Promise.all(
    [transaction.objectStore("outbox").count(), transaction.objectStore("sessions").count()].map(
      (request) =>
        new Promise<number>((resolve) => {
          request.onsuccess = () => resolve(request.result);
        }),
    ),
  );
  database.close();
  return { waiting: waiting ?? 0, sessions: sessions ?? 0 };
}

type Arrived = { readonly serial: string; readonly readings: readonly (number | null)[] };

/** What the server has of a station, in the order in which its journal vouches for it. */
async function arrivedAt(plantId: string): Promise<Arrived[]> {
  const { rows } = await getPool().query<Arrived>(sql`
    select f.serial, i.readings
    from journal_entry j
    cross join lateral jsonb_array_elements(j.subjects::jsonb) with ordinality as s(subject, place)
    join inspection i on i.plant_id = j.plant_id and i.id = (s.subject->>'id')::uuid
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    where j.plant_id = ${plantId} and j.action = 'inspections.recorded' and s.subject->>'table' = 'inspection'
    order by j.sequence, s.place`);
  return rows;
}

/** Compares what arrived with what was keyed. */
async function compare({ plant, finished, name, faults }: Station): Promise<void> {
  const arrived = await arrivedAt(plant.plantId);
  const { rows: counted } = await getPool().query<{ n: number }>(
    sql`select count(*)::int as n from inspection where plant_id = ${plant.plantId}`,
  );
  if (counted[0]?.n !== finished) faults.push(`${name}: ${finished} frames finished, ${counted[0]?.n ?? 0} arrived`);
  const serials = Array.from({ length: finished }, (_, frame) => serialOf(frame));
  if (arrived.map(({ serial }) => serial).join() !== serials.join())
    faults.push(`${name}: arrived as ${arrived.map(({ serial }) => serial).join()}`);
  for (const { serial, readings } of arrived) {
    const frame = serials.indexOf(serial);
    const keyed = plant.names.map((one, index) => Number(valueOf(one, frame, index)));
    if (readings.join() !== keyed.join()) faults.push(`${serial}: keyed ${keyed.join()}, arrived ${readings.join()}`);
  }
}

async function work(station: Station, options: KillRunOptions, until: number): Promise<void> {
  for (let frame = 0; frame < options.frames && performance.now() < until; frame += 1) {
    await station.measure(frame);
    if (frame % 10 === 9)
      options.tell?.(
        `${station.name}: ${frame + 1} frames, kills ${JSON.stringify(station.kills)}, faults ${station.faults.length}`,
      );
  }
}

/**
 * Keys frames at several stations while pages, workers, network, application and database server are killed at seeded
 * moments, and compares what the database then holds with what was keyed.
 */
export async function runLineKills(options: KillRunOptions): Promise<KillRunResult> {
  const plant = await startLinePlant();
  const browser: Browser = await launchBrowser();
  const power = new Power(plant);
  try {
    const stations: Station[] = [];
    for (let at = 0; at < options.stations; at += 1) {
      const made = await plant.addPlant({ frames: options.frames, plan: "routine" });
      const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
      await plant.signIn(context, made.email);
      const random = createSeededGenerator(options.seed + at);
      stations.push(new Station(`station ${at + 1}`, plant.address, context, made, power, random, options));
    }
    for (const station of stations) await station.open();
    const until = performance.now() + (options.budgetMs ?? Number.POSITIVE_INFINITY);
    await Promise.all(stations.map((station) => work(station, options, until)));
    await power.back();
    await Promise.all(stations.map((station) => station.drain(60_000)));
    for (const station of stations) await compare(station);
    const kills: Partial<Record<Kill, number>> = {};
    for (const station of stations)
      for (const [kill, count] of Object.entries(station.kills) as [Kill, number][])
        kills[kill] = (kills[kill] ?? 0) + count;
    return {
      frames: stations.reduce((sum, { finished }) => sum + finished, 0),
      readings: stations.reduce((sum, { finished, plant: { names } }) => sum + finished * names.length, 0),
      kills,
      keyedAgain: stations.reduce((sum, station) => sum + station.keyedAgain, 0),
      faults: stations.flatMap(({ faults }) => faults),
    };
  } finally {
    await browser.close();
    await power.back().catch(() => undefined);
    await plant.stop();
  }
}
