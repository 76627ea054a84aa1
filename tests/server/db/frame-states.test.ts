import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { FRAME_ACTS, FRAME_STATES, GONE_STATES, isState, UNMEASURED_STATES } from "@/lib/quality/frame-state";
import { ACTIONS } from "@/lib/server/auth/permissions";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

describe("states of a frame in the database", () => {
  it("are those of the program, in its order", async () => {
    const { rows } = await getPool().query<{ state: string }>(sql`
      select unnest(enum_range(null::"FrameState"))::text as state`);
    expect(rows.map(({ state }) => state)).toEqual(FRAME_STATES);
  });

  it("count in their batch's tally as the program's sets say", async () => {
    const { rows } = await getPool().query<{ state: (typeof FRAME_STATES)[number]; counts: number[] }>(sql`
      select state, frame_counts(null, state::"FrameState", 0::smallint) as counts from unnest(${FRAME_STATES}::text[]) as s(state)`);
    expect(rows).toHaveLength(FRAME_STATES.length);
    // Places of the counts: batch_tally's columns, as its migration lists them.
    for (const { state, counts } of rows) {
      expect({ state, unmeasured: counts[5] }).toEqual({
        state,
        unmeasured: Number(isState(state, UNMEASURED_STATES)),
      });
      expect({ state, gone: counts[8] }).toEqual({ state, gone: Number(isState(state, GONE_STATES)) });
    }
  });

  it("are moved by those who have a permission that there is", () => {
    const asked = Object.values(FRAME_ACTS).flatMap(({ may }) => (may === null ? [] : [may]));
    expect(asked.filter((may) => !(ACTIONS as readonly string[]).includes(may))).toEqual([]);
  });
});
