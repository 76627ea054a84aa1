import { afterAll, beforeAll, expect, it } from "vitest";
import { findTokenViewer } from "@/lib/server/auth/find-token-viewer";
import { viewerFromHeaders } from "@/lib/server/auth/session";
import { signIn } from "@/lib/server/auth/sign-in";
import { getStationPackage } from "@/lib/server/line/queries";
import { changePlant } from "@/lib/server/plant/change-parts";
import { getPlant } from "@/lib/server/plant/queries";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { createTestPlant, type TestPlant } from "@/tests/helpers/plant";
import { cookieHeader, createSignIn, PASSWORD, setTestEnvironment } from "./plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let cookie = "";

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 1, plan: "routine" });
  await createSignIn(plant.system, "ines@plant.example", "inspector", "engineer");
  cookie = cookieHeader(await signIn({ email: "ines@plant.example", password: PASSWORD }, new Headers()));
});
afterAll(() => database.drop());

const asked = async () => {
  const viewer = await viewerFromHeaders(new Headers({ cookie }));
  if (viewer === null) throw new Error("nobody is signed in");
  return viewer;
};

it("the plant's clock comes with who asks, and a new one holds from the next request on", async () => {
  const boss = await plant.as("administrator");
  const { token } = await createToken(boss, { name: "rig", scopes: ["gate:read"] });
  const before = await asked();
  expect([before.plantZone, (await findTokenViewer(token))?.plantZone]).toEqual(["UTC", "UTC"]);
  const { name, version } = await getPlant(before);
  await changePlant(before, { name, version, timeZone: "Asia/Kathmandu" });
  const after = await asked();
  expect([after.plantZone, (await findTokenViewer(token))?.plantZone]).toEqual(["Asia/Kathmandu", "Asia/Kathmandu"]);
  expect((await getStationPackage(after, plant.stationId)).zone).toBe("Asia/Kathmandu");
});
