import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import { createBatch } from "@/lib/server/batches/commands";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { decideFrames } from "@/lib/server/gate/commands";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import type { TestPlant } from "./plant";

const ACTS = ["ship", "bad", "withdraw", "return", "release"] as const;
type Act = (typeof ACTS)[number];

// Limits and U of press-fit 41 (invented): bore 40.950 to 41.000 mm, U 5.9 µm.
const FAILS = { "ds.bore.2@12-6": 40.9 };
const NOT_PROVEN = { "ds.bore.2@12-6": 40.9555 };
/** Acts start within this time of each other, ms; some at the same moment. */
const WITHIN_MS = 12;

export type RaceOutcome = Readonly<
  Record<"shipped" | "refused" | "escaped" | "returned" | "released" | "lost", number>
>;

type After = {
  readonly state: string;
  readonly shipments: number;
  readonly failing: number;
  readonly valid: number;
  readonly escapes: number;
  readonly decisions: readonly string[];
};

async function readAfter(plantId: string, serial: string): Promise<After> {
  const { rows } = await getPool().query<After>(sql`
    select f.state::text as state,
      (select count(*)::int from shipment s where s.plant_id = f.plant_id and s.frame_id = f.id and s.answer = 'shipped') as shipments,
      (select count(*)::int from escape e where e.plant_id = f.plant_id and e.frame_id = f.id) as escapes,
      array(select d.id::text from decision d where d.plant_id = f.plant_id and f.id = any(d.frame_ids)) as decisions,
      count(i.id) filter (where i.verdict = 'does not conform')::int as failing, count(i.id)::int as valid
    from frame f left join inspection i on i.plant_id = f.plant_id and i.frame_id = f.id and not exists (
      select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)
    where f.plant_id = ${plantId} and f.serial = ${serial} group by f.plant_id, f.id`);
  const row = rows[0];
  if (row === undefined) throw new Error(`readAfter: there is no frame ${serial}`);
  return row;
}

/** What must never be, in words; [] where all is well. */
function faultsOf(after: After, done: ReadonlyMap<Act, string>): string[] {
  const faults: string[] = [];
  const has = (what: boolean, words: string) => (what ? faults.push(words) : 0);
  has((after.state === "shipped") !== (after.shipments === 1), `is ${after.state} with ${after.shipments} shipments`);
  // A reading or a withdrawal that comes after the scan opens an escape; one from before it must have stopped the scan.
  has(after.shipments > 0 && after.failing > 0 && after.escapes === 0, "shipped on a failing reading");
  has(after.shipments > 0 && after.valid === 0 && after.escapes === 0, "shipped on nothing");
  has(done.has("return") && after.state !== "returned", `was returned and is ${after.state}`);
  has(done.has("ship") && after.shipments !== 1, "lost its shipment");
  has(done.has("bad") && after.failing !== 1, "lost its failing reading");
  for (const act of ["return", "release"] as const)
    has(done.has(act) && !after.decisions.includes(done.get(act) ?? ""), `lost the decision to ${act}`);
  const kept = [done.get("return"), done.get("release")].filter((one) => one !== undefined).length;
  has(after.decisions.length !== kept, `has ${after.decisions.length} decisions, ${kept} were answered as signed`);
  return faults;
}

/** Frames and batches are made for as many races at a time. */
const PREPARED = 100;
type Prepared = {
  readonly batchId: string;
  readonly serial: string;
  readonly first: ReturnType<TestPlant["inspection"]>;
};

/** Batches of two measured frames each, of which the first is raced for. */
async function prepare(
  plant: TestPlant,
  { seed, round, rounds }: { readonly seed: number; readonly round: number; readonly rounds: number },
  random: SeededGenerator,
): Promise<readonly Prepared[]> {
  const ready: Prepared[] = [];
  const others: Prepared["first"][] = [];
  for (let at = round; at < round + rounds; at += 1) {
    const [serial, other] = [`R${seed}-${at}-1`, `R${seed}-${at}-2`];
    const { id: batchId } = await createBatch(plant.system, {
      key: `RACE-${seed}-${at}`,
      supplier: "SUP",
      model: "M1",
      line: "L1",
      plan: "P1",
      serials: [{ serial }, { serial: other }],
    });
    ready.push({ batchId, serial, first: plant.inspection(serial, random.uniform() < 0.3 ? NOT_PROVEN : {}) });
    others.push(plant.inspection(other));
  }
  await recordInspections(plant.system, [...ready.map(({ first }) => first), ...others]);
  return ready;
}

/**
 * Races of release, late failing reading, withdrawal, return and ship scan on one frame, each of a batch of its own.
 *
 * @param seed - the same seed gives the same acts and delays; what wins is the machine's matter
 * @returns how often what came about, and what must never be, in words
 */
export async function runGateRaces(
  plant: TestPlant,
  rounds: number,
  seed: number,
): Promise<{ readonly outcome: RaceOutcome; readonly faults: readonly string[] }> {
  const random = createSeededGenerator(seed);
  const people = {
    dock: await plant.as("dock"),
    engineer: await plant.as("engineer"),
    manager: await plant.as("supplier_manager"),
  };
  const outcome = { shipped: 0, refused: 0, escaped: 0, returned: 0, released: 0, lost: 0 };
  const faults: string[] = [];
  let ready: readonly Prepared[] = [];
  for (let round = 1; round <= rounds; round += 1) {
    if (ready.length === 0)
      ready = await prepare(plant, { seed, round, rounds: Math.min(PREPARED, rounds - round + 1) }, random);
    const [one, ...others] = ready;
    ready = others;
    if (one === undefined) throw new Error("runGateRaces: nothing was prepared");
    const { serial, first, batchId } = one;
    const { rows } = await getPool().query<{ version: number }>(sql`
      select version from batch where plant_id = ${plant.plantId} and id = ${batchId}`);
    const shared = { batchId, batchVersion: rows[0]?.version ?? 0, serials: [serial], password: "x" };
    const run = {
      ship: async (id: string) => (await shipFrame(people.dock, { id, serial })).answer === "shipped",
      bad: async (id: string) => {
        await recordInspection(plant.system, { ...plant.inspection(serial, FAILS), id, reason: "measured again" });
        return true;
      },
      withdraw: async () => {
        await withdrawInspection(people.engineer, { id: first.id, reason: "another frame was on the fixture" });
        return true;
      },
      return: async (id: string) => {
        const why = { grounds: "agreed", cause: "supplier" as const, againstCause: "they take it" };
        await decideFrames(people.manager, { ...shared, id, disposition: "return_to_supplier", ...why });
        return true;
      },
      release: async (id: string) => {
        await decideFrames(people.manager, { ...shared, id, disposition: "release", grounds: "looked at" });
        return true;
      },
    } as const satisfies Record<Act, (id: string) => Promise<boolean>>;
    const acts = ACTS.filter((act) => act === "ship" || random.uniform() < 0.5);
    const done = new Map<Act, string>();
    await Promise.all(
      acts.map(async (act) => {
        const delayMs = random.uniform() < 0.3 ? 0 : random.uniform() * WITHIN_MS;
        const id = uuidV7();
        await new Promise((resolve) => setTimeout(resolve, delayMs));
        try {
          if (await run[act](id)) done.set(act, id);
          else outcome.refused += 1;
        } catch (error) {
          // Refused in words is an answer; anything else is a fault.
          if (!(error instanceof AppError) || error.code === "unexpected")
            faults.push(`round ${round}, ${act}: ${String(error)}`);
          outcome.lost += 1;
        }
      }),
    );
    const after = await readAfter(plant.plantId, serial);
    if (done.has("ship")) outcome.shipped += 1;
    if (done.has("return")) outcome.returned += 1;
    if (done.has("release")) outcome.released += 1;
    if (after.escapes > 0) outcome.escaped += 1;
    faults.push(...faultsOf(after, done).map((words) => `round ${round}, ${acts.join(" ")}: ${words}`));
  }
  return { outcome, faults };
}
