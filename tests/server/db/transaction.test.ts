import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest";
import type pg from "pg";
import { prepared, sql } from "@/lib/server/db/sql";
import { readDatabaseRefusal } from "@/lib/server/db/prisma-errors";
import { allEnded, inSqlTransaction } from "@/lib/server/db/transaction";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";

let database: TestDatabase;

beforeAll(async () => {
  database = await createTestDatabase();
  await database.owner.query("create table counter (id int primary key, value int not null check (value >= 0))");
  await database.owner.query("create table note (id int primary key references counter(id))");
  await database.owner.query("grant all on counter, note to public");
});
beforeEach(async () => {
  await database.pool.query("delete from note; delete from counter; insert into counter values (1, 0), (2, 0)");
  await database.owner.query("delete from plant");
});
afterAll(() => database.drop());

const readCounter = async (id: number): Promise<number> => {
  const { rows } = await database.pool.query<{ value: number }>("select value from counter where id = $1", [id]);
  return rows[0]?.value ?? Number.NaN;
};

const failureOf = async (work: Promise<unknown>): Promise<unknown> =>
  work.then(
    () => null,
    (error: unknown) => error,
  );

const plant = (id: string, key: string) => ({ id, key, name: key, timeZone: "UTC" });
const A = "01890000-0000-7000-8000-000000000001";
const B = "01890000-0000-7000-8000-000000000002";

/** Two that wait for each other: each locks its first row, meets the other, then asks for the second. */
function makeMeeting(): () => Promise<void> {
  let open: () => void = () => {};
  const both = new Promise<void>((resolve) => (open = resolve));
  let arrived = 0;
  return async () => {
    arrived += 1;
    if (arrived >= 2) open();
    await both;
  };
}

describe("inSqlTransaction", () => {
  test("commits what it wrote and returns its result", async () => {
    const result = await inSqlTransaction(async (client) => {
      await client.query("update counter set value = 7 where id = 1");
      return "done";
    });
    expect(result).toBe("done");
    expect(await readCounter(1)).toBe(7);
  });

  test("rolls back on an error, passes it on, and returns the connection", async () => {
    for (let time = 0; time < 20; time += 1) {
      const work = inSqlTransaction(async (client) => {
        await client.query("update counter set value = 9 where id = 1");
        throw new Error("no");
      });
      await expect(work).rejects.toThrow("no");
    }
    expect(await readCounter(1)).toBe(0);
  });

  test("commits with the last statements, whose answers are not waited for before", async () => {
    const result = await inSqlTransaction(async (client, withCommit) => {
      withCommit(client.query("update counter set value = 3 where id = 1"));
      withCommit(client.query("update counter set value = 4 where id = 2"));
      return "done";
    });
    expect([result, await readCounter(1), await readCounter(2)]).toEqual(["done", 3, 4]);
  });

  test("keeps nothing where one of the last statements fails, says which, and returns the connection as it was", async () => {
    for (let time = 0; time < 20; time += 1) {
      const work = inSqlTransaction(async (client, withCommit) => {
        await client.query("update counter set value = 3 where id = 1");
        withCommit(client.query("update counter set value = -1 where id = 2"));
        withCommit(client.query("update counter set value = 5 where id = 1"));
        return "done";
      });
      expect(readDatabaseRefusal(await failureOf(work))?.kind).toBe("check");
    }
    expect([await readCounter(1), await readCounter(2)]).toEqual([0, 0]);
    const { rows } = await database.pool.query<{ inside: boolean }>(
      "select pg_current_xact_id_if_assigned() is not null as inside",
    );
    expect(rows[0]?.inside).toBe(false);
  });

  test("sends nothing after its end where one of several parts fails", async () => {
    const sent: string[] = [];
    const work = inSqlTransaction(async (client) => {
      const slow = async (): Promise<void> => {
        for (const value of [1, 2, 3]) {
          await client.query("select pg_sleep(0.01)");
          await client.query("update counter set value = $1 where id = 2", [value]);
          sent.push(`value ${value}`);
        }
      };
      const wrong = async (): Promise<void> => {
        await client.query("select pg_sleep(0.005)");
        throw new Error("no");
      };
      await allEnded([slow(), wrong()]);
    });
    await expect(work).rejects.toThrow("no");
    expect(sent).toEqual(["value 1", "value 2", "value 3"]);
    expect(await readCounter(2)).toBe(0);
  });

  test("repeats a serialization failure (40001) until every increment counts", async () => {
    const increment = async (client: pg.PoolClient): Promise<void> => {
      const { rows } = await client.query<{ value: number }>("select value from counter where id = 1");
      await client.query("update counter set value = $1 where id = 1", [(rows[0]?.value ?? 0) + 1]);
    };
    const all = Array.from({ length: 6 }, () =>
      inSqlTransaction(increment, { isolation: "Serializable", attempts: 40 }),
    );
    await Promise.all(all);
    expect(await readCounter(1)).toBe(6);
  });

  test("repeats after a deadlock (40P01)", async () => {
    const meet = makeMeeting();
    let runs = 0;
    const cross = (first: number, second: number) =>
      inSqlTransaction(async (client) => {
        runs += 1;
        await client.query("update counter set value = value + 1 where id = $1", [first]);
        await meet();
        await client.query("update counter set value = value + 1 where id = $1", [second]);
      });
    await Promise.all([cross(1, 2), cross(2, 1)]);
    expect([await readCounter(1), await readCounter(2)]).toEqual([2, 2]);
    expect(runs).toBeGreaterThan(2);
  });

  test("gives up after the attempts it was given", async () => {
    let runs = 0;
    const work = inSqlTransaction(
      async (client) => {
        runs += 1;
        await client.query("do $$ begin raise exception 'clash' using errcode = '40001'; end $$");
      },
      { attempts: 3 },
    );
    await expect(work).rejects.toThrow("clash");
    expect(runs).toBe(3);
  });

  test("does not repeat other errors", async () => {
    let runs = 0;
    const work = inSqlTransaction(async (client) => {
      runs += 1;
      await client.query("insert into counter values (1, 1)");
    });
    await expect(work).rejects.toThrow("duplicate key");
    expect(runs).toBe(1);
  });
});

describe("readDatabaseRefusal", () => {
  test("reads unique violations of pg and of Prisma", async () => {
    const plain = await failureOf(database.pool.query("insert into counter values (1, 1)"));
    expect(readDatabaseRefusal(plain)).toEqual({ kind: "unique", constraint: "counter_pkey" });
    await database.prisma.plant.create({ data: plant(A, "a") });
    const viaPrisma = await failureOf(database.prisma.plant.create({ data: plant(B, "a") }));
    expect(readDatabaseRefusal(viaPrisma)).toEqual({ kind: "unique", constraint: "plant_key_key" });
    const inside = await failureOf(database.prisma.plant.create({ data: plant(A, "c") }));
    expect(readDatabaseRefusal(inside)).toEqual({ kind: "unique", constraint: "plant_pkey" });
  });

  test("reads foreign key and check violations of pg and of Prisma's raw statements", async () => {
    const foreign = await failureOf(database.pool.query("insert into note values (99)"));
    expect(readDatabaseRefusal(foreign)).toEqual({ kind: "foreign-key", constraint: "note_id_fkey" });
    const foreignRaw = await failureOf(database.prisma.$executeRaw`insert into note values (99)`);
    expect(readDatabaseRefusal(foreignRaw)).toEqual({ kind: "foreign-key", constraint: "note_id_fkey" });
    const check = await failureOf(database.pool.query("update counter set value = -1"));
    expect(readDatabaseRefusal(check)).toEqual({ kind: "check", constraint: "counter_value_check" });
    const checkRaw = await failureOf(database.prisma.$executeRaw`update counter set value = -1`);
    expect(readDatabaseRefusal(checkRaw)).toEqual({ kind: "check", constraint: "counter_value_check" });
  });

  test("reads a row that may not change (SQLSTATE 23001)", async () => {
    const statement = "do $$ begin raise exception 'never changes' using errcode = 'restrict_violation'; end $$";
    const plain = await failureOf(database.pool.query(statement));
    expect(readDatabaseRefusal(plain)).toEqual({ kind: "restrict", constraint: null });
    const raw = await failureOf(database.prisma.$executeRawUnsafe(statement));
    expect(readDatabaseRefusal(raw)).toEqual({ kind: "restrict", constraint: null });
  });

  test("reads a record that an update did not find", async () => {
    const error = await failureOf(database.prisma.plant.update({ where: { id: B }, data: { name: "x" } }));
    expect(readDatabaseRefusal(error)).toEqual({ kind: "not-found" });
  });

  test("answers null for what is no refusal of the database", () => {
    for (const value of [null, undefined, "text", new Error("x"), { code: 12 }, { code: "ENOENT" }]) {
      expect(readDatabaseRefusal(value)).toBeNull();
    }
  });

  test("knows a server that cannot be reached", () => {
    expect(readDatabaseRefusal({ code: "ECONNREFUSED" })).toEqual({ kind: "unreachable" });
    expect(readDatabaseRefusal({ code: "57P01" })).toEqual({ kind: "unreachable" });
  });
});

describe("sql", () => {
  test("binds every value and weaves in nested statements", async () => {
    const condition = sql`id = ${2} and value < ${5}`;
    const statement = sql`select ${"it's"}::text as word, id from counter where ${condition} limit ${1}`;
    expect(statement.text).toBe("select $1::text as word, id from counter where id = $2 and value < $3 limit $4");
    const { rows } = await database.pool.query(statement);
    expect(rows).toEqual([{ word: "it's", id: 2 }]);
  });

  test("weaves in a statement without values and keeps the order over two levels", () => {
    const inner = sql`b = ${2} and ${sql`c = ${3}`}`;
    expect(sql`a = ${1} and ${inner} and ${sql`true`} and d = ${4}`).toMatchObject({
      text: "a = $1 and b = $2 and c = $3 and true and d = $4",
      values: [1, 2, 3, 4],
    });
  });

  test("a prepared statement keeps its name", async () => {
    const { rows } = await database.pool.query(prepared("by-id", sql`select id from counter where id = ${1}`));
    expect(rows).toEqual([{ id: 1 }]);
  });
});
