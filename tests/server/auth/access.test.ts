import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST as postAnalysis } from "@/app/api/v1/analysis/route";
import { GET as getGateBatch } from "@/app/api/v1/gate/batches/[id]/route";
import { GET as getGateFrame } from "@/app/api/v1/gate/frames/[serial]/route";
import { GET as getTrace } from "@/app/api/v1/gauges/[key]/trace/route";
import { POST as postGeometry } from "@/app/api/v1/geometry/route";
import { POST as postSampling } from "@/app/api/v1/sampling/route";
import { POST as postInspections } from "@/app/api/v1/inspections/route";
import { GET as getHead } from "@/app/api/v1/journal/head/route";
import { POST as postGiveUp } from "@/app/api/v1/line/give-up/route";
import { POST as postLease } from "@/app/api/v1/line/leases/route";
import { POST as postState } from "@/app/api/v1/line/state/route";
import { GET as getStation } from "@/app/api/v1/line/stations/[id]/route";
import { GET as getStations } from "@/app/api/v1/line/stations/route";
import { POST as postWithdrawal } from "@/app/api/v1/line/withdrawals/route";
import { GET as getMessageMail } from "@/app/api/v1/messages/[id]/mail/route";
import { GET as getMessageCount } from "@/app/api/v1/messages/count/route";
import { GET as getLive } from "@/app/api/v1/live/route";
import { POST as postShipment } from "@/app/api/v1/shipments/route";
import { GET as getPaperFile } from "@/app/api/v1/papers/[id]/file/route";
import { GET as getPaper } from "@/app/api/v1/papers/[id]/route";
import { POST as postPaper } from "@/app/api/v1/papers/route";
import { POST as postEvent } from "@/app/api/v1/events/route";
import { POST as postZeroCheck } from "@/app/api/v1/zero-checks/route";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import { ROLES, type Role } from "@/lib/schemas/people";
import { TOKEN_SCOPES } from "@/lib/schemas/token";
import { mayDo, type Action } from "@/lib/server/auth/permissions";
import { signIn } from "@/lib/server/auth/sign-in";
import type { Viewer } from "@/lib/server/auth/viewer";
import { sql } from "@/lib/server/db/sql";
import { getStreamCapability } from "@/lib/server/drift/capability-queries";
import { approveBaseline, rollBackBaseline } from "@/lib/server/cases/baseline-commands";
import { chooseTests } from "@/lib/server/cases/choose-tests";
import { readBaselineDifference, readBaselinePage } from "@/lib/server/cases/baseline-queries";
import { addEvent, correctEvent } from "@/lib/server/events/commands";
import { listEventLines, listEvents } from "@/lib/server/events/queries";
import { listStreams } from "@/lib/server/drift/list-streams";
import { getOffset } from "@/lib/server/drift/offset-queries";
import { readStreamScheme } from "@/lib/server/cases/stream-scheme";
import { getStream } from "@/lib/server/drift/queries";
import { getFrameRecord, searchEverything } from "@/lib/server/frames/queries";
import { decideFrames, releaseBatch } from "@/lib/server/gate/commands";
import { countBatches, getBatch, listBatches } from "@/lib/server/gate/queries";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import {
  changeBadge,
  correctPerson,
  changeRoles,
  createPerson,
  deactivatePerson,
  giveSignIn,
  setPassword,
} from "@/lib/server/people/commands";
import { listPeople } from "@/lib/server/people/queries";
import { createBatch } from "@/lib/server/batches/commands";
import { createLine } from "@/lib/server/plant/create-parts";
import { releaseDrawing } from "@/lib/server/drawings/commands";
import { releasePlan } from "@/lib/server/plans/commands";
import { changeGauge, changeSettingRing } from "@/lib/server/gauges/change-gauges";
import { changeNamedPart, changeOperation, changePlant, changeStation } from "@/lib/server/plant/change-parts";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { listFirstSteps } from "@/lib/server/plant/first-steps";
import { getDrawingRevision, listDrawings } from "@/lib/server/drawings/queries";
import { askJournalCheck, listJournalChecks } from "@/lib/server/audit/journal-checks";
import { getJournal } from "@/lib/server/audit/journal-page";
import { getPlanRevision, listPlans } from "@/lib/server/plans/queries";
import { getPlant, getSetupOverview, listOperations } from "@/lib/server/plant/queries";
import { listGauges, listRings } from "@/lib/server/gauges/register";
import { listNewestBatches } from "@/lib/server/batches/queries";
import { countShipments } from "@/lib/server/shipments/queries";
import { decideRoleRequest } from "@/lib/server/people/role-requests";
import { createToken, revokeToken } from "@/lib/server/tokens/commands";
import { giveUpJob, tryJobAgain, tryKindAgain } from "@/lib/server/worker/job-commands";
import { listJobs } from "@/lib/server/worker/job-list";
import { findTokenViewer } from "@/lib/server/auth/find-token-viewer";
import { listTokens } from "@/lib/server/tokens/queries";
import { acknowledgeMessage, getMessage, listMessages } from "@/lib/server/messages/inbox";
import { messageFile } from "@/lib/server/messages/message-file";
import {
  addSubscription,
  changeMailServer,
  changeMessageTimes,
  removeMailServer,
  removeSubscription,
  sendMailAgain,
  tryMailServer,
} from "@/lib/server/messages/sending-commands";
import { getSending, getWebhook } from "@/lib/server/messages/sending-queries";
import { addWebhook, changeWebhook, resendDelivery, rotateSecret } from "@/lib/server/messages/webhook-commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";
import { cookieHeader, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "./plant-fixture";

// Which action each route and command asks for, by hand; who may do what is the matrix of permissions.test.ts.

type Caller = { readonly name: string; readonly viewer: Viewer; readonly headers: Record<string, string> };
type Handler = (request: Request, context: { params: Promise<Record<string, string>> }) => Promise<Response>;

let database: TestDatabase;
let plant: TestPlant;
let other: TestPlant;
let callers: readonly Caller[] = [];
let foreigner: Caller;
let measured = "";
let batchId = "";
const NOBODY = "01890000-0000-7000-8000-000000000001";

async function personCaller(of: TestPlant, ...roles: Role[]): Promise<Caller> {
  const email = `${uuidV7()}@plant.example`;
  const viewer = await createSignIn(of.system, email, ...roles);
  const cookie = cookieHeader(await signIn({ email, password: PASSWORD }, new Headers()));
  return { name: roles.join(" "), viewer, headers: { cookie, origin: ORIGIN } };
}

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 6 });
  other = await createTestPlant({ frames: 1 });
  const inspection = plant.inspection("T-0001");
  await recordInspection(plant.system, inspection);
  measured = inspection.id;
  const { rows } = await database.pool.query(sql`select id from batch where plant_id = ${plant.plantId}`);
  batchId = rows[0].id;
  const made: Caller[] = [];
  for (const role of ROLES) made.push(await personCaller(plant, role));
  for (const scope of TOKEN_SCOPES) {
    const { token } = await createToken(plant.system, { name: scope, scopes: [scope] });
    const viewer = await findTokenViewer(token);
    if (viewer === null) throw new Error("the token is not known");
    made.push({ name: scope, viewer, headers: { authorization: `Bearer ${token}` } });
  }
  callers = made;
  foreigner = await personCaller(other, ...ROLES);
  await database.pool.query(sql`update frame set serial = 'O-0001' where plant_id = ${other.plantId}`);
});
afterAll(async () => database.drop());

async function call(
  handler: Handler,
  caller: Pick<Caller, "headers">,
  { body, params = {} }: { readonly body?: unknown; readonly params?: Record<string, string> },
) {
  const request = new Request("http://localhost:3000/api/v1/any", {
    method: body === undefined ? "GET" : "POST",
    headers: { ...caller.headers, ...(body === undefined ? {} : { "content-type": "application/json" }) },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  });
  const response = await handler(request, { params: Promise.resolve(params) });
  const isStream = response.headers.get("content-type")?.startsWith("text/event-stream") ?? false;
  if (isStream) await response.body?.cancel();
  return { status: response.status, body: isStream ? null : await response.json().catch(() => null) };
}

type Asked = { readonly body?: unknown; readonly params?: Record<string, string> };
type RouteRow = readonly [name: string, handler: Handler, action: Action, ask: () => Asked, foreign: number];

// The last column: what somebody of another plant with every role is answered when asking for rows of this one.
const ROUTES: readonly RouteRow[] = [
  ["POST inspections", postInspections as Handler, "line.inspect", () => ({ body: plant.inspection("T-0002") }), 404],
  ["POST shipments", postShipment as Handler, "gate.ship", () => ({ body: { id: uuidV7(), serial: "T-0001" } }), 200],
  [
    "POST leases",
    postLease as Handler,
    "line.lease",
    () => ({ body: { serial: "T-0003", deviceId: "a", batch: TEST_BATCH } }),
    404,
  ],
  ["POST give-up", postGiveUp as Handler, "line.lease", () => ({ body: { serial: "T-0003", deviceId: "a" } }), 404],
  [
    "POST state",
    postState as Handler,
    "line.lease",
    () => ({
      body: { deviceId: "a", stationId: plant.stationId, waiting: 0, refused: 0, oldestAt: null, clockSkewMs: 0 },
    }),
    // The device is known to their own plant then, at no station.
    200,
  ],
  [
    "POST withdrawals",
    postWithdrawal as Handler,
    "line.withdraw",
    () => ({ body: { id: measured, reason: "not this frame" } }),
    404,
  ],
  [
    "POST zero-checks",
    postZeroCheck as Handler,
    "line.zero-check",
    () => ({ body: { id: uuidV7(), gauge: "NONE", readingMm: 41, occasion: "other" } }),
    404,
  ],
  [
    "POST events",
    postEvent as Handler,
    "drift.add-event",
    () => ({ body: { id: uuidV7(), line: "NONE", kind: "other", at: new Date().toISOString(), text: "something" } }),
    404,
  ],
  [
    "POST papers",
    postPaper as Handler,
    "records.export",
    () => ({ body: { id: uuidV7(), about: { kind: "stream", streamId: NOBODY, frames: 1 } } }),
    404,
  ],
  ["GET paper", getPaper as Handler, "records.export", () => ({ params: { id: NOBODY } }), 404],
  ["GET paper file", getPaperFile as Handler, "records.export", () => ({ params: { id: NOBODY } }), 404],
  ["GET gate frame", getGateFrame as Handler, "gate.enquire", () => ({ params: { serial: "T-0003" } }), 200],
  ["GET gate batch", getGateBatch as Handler, "gate.enquire", () => ({ params: { id: batchId } }), 404],
  ["GET trace", getTrace as Handler, "gauges.view", () => ({ params: { key: "NONE" } }), 404],
  ["GET stations", getStations as Handler, "line.view", () => ({}), 200],
  ["GET station", getStation as Handler, "line.view", () => ({ params: { id: plant.stationId } }), 404],
  ["GET journal head", getHead as Handler, "journal.view", () => ({}), 200],
  ["GET live", getLive as Handler, "drift.view", () => ({}), 200],
  ["GET messages count", getMessageCount as Handler, "messages.view", () => ({}), 200],
  ["GET message mail", getMessageMail as Handler, "messages.view", () => ({ params: { id: NOBODY } }), 404],
  [
    "POST geometry",
    postGeometry as Handler,
    "records.view",
    () => ({ body: { drawing: "press-fit-41", readings: { "ds.bore.1@12-6": 40.97 } } }),
    200,
  ],
  [
    "POST sampling",
    postSampling as Handler,
    "gate.sampling",
    () => ({ body: { scheme: "iso-2859-1", lot: 100, aql: 1 } }),
    200,
  ],
  [
    "POST analysis",
    postAnalysis as Handler,
    "drift.view",
    () => ({ body: { kind: "autocorrelation", values: Array.from({ length: 30 }, (_, at) => (at * 7) % 5) } }),
    200,
  ],
];

describe("every route, by everybody", () => {
  it.each(ROUTES)("%s", async (_, handler, action, ask) => {
    for (const caller of callers) {
      const { status, body } = await call(handler, caller, ask());
      const expected = mayDo(caller.viewer, action);
      expect([caller.name, status !== 403]).toEqual([caller.name, expected]);
      if (!expected) expect(body).toMatchObject({ code: "forbidden", detail: expect.stringMatching(/may not/) });
      expect([caller.name, status]).not.toEqual([caller.name, 500]);
    }
    const strangers: readonly Record<string, string>[] = [
      {},
      { authorization: "Bearer sg_nobody" },
      { cookie: "shellgate.session_token=x.y" },
    ];
    for (const headers of strangers) expect([401, 403]).toContain((await call(handler, { headers }, ask())).status);
  });

  it.each(ROUTES)("%s gives nothing of another plant", async (_, handler, _action, ask, expected) => {
    const { status, body } = await call(handler, foreigner, ask());
    expect(status).toBe(expected);
    const text = JSON.stringify(body);
    expect(text).not.toContain(plant.plantId);
    if (body !== null && "answer" in body) expect(["stop", "refused"]).toContain(body.answer);
  });

  it("answers a token that was revoked, and one that has expired, as nobody", async () => {
    const { token, tokenId } = await createToken(plant.system, { name: "rig", scopes: ["gate:read"] });
    const headers = { authorization: `Bearer ${token}` };
    expect((await call(getGateBatch as Handler, { headers }, { params: { id: TEST_BATCH } })).status).toBe(200);
    await revokeToken(plant.system, { tokenId });
    expect((await call(getGateBatch as Handler, { headers }, { params: { id: TEST_BATCH } })).status).toBe(401);
    const soon = await createToken(plant.system, { name: "rig", scopes: ["gate:read"] });
    await database.pool.query(sql`
      update api_token set expires_at = now() - interval '1 second' where plant_id = ${plant.plantId} and id = ${soon.tokenId}`);
    const late = { authorization: `Bearer ${soon.token}` };
    expect((await call(getGateBatch as Handler, { headers: late }, { params: { id: TEST_BATCH } })).status).toBe(401);
  });
});

const signature = { grounds: "as agreed", password: "not the password", batchVersion: 0 };
const decision = (disposition: "scrap" | "concession") => ({
  id: uuidV7(),
  batchId,
  serials: ["T-0006"],
  disposition,
  ...signature,
  ...(disposition === "concession" ? { expiresAt: new Date(Date.now() + 30 * 86_400_000).toISOString() } : {}),
});
const name = () => uuidV7();

const COMMANDS: readonly (readonly [name: string, action: Action, run: (viewer: Viewer) => unknown])[] = [
  ["decideFrames", "gate.decide", (viewer) => decideFrames(viewer, decision("scrap"))],
  ["decideFrames, concession", "gate.concede", (viewer) => decideFrames(viewer, decision("concession"))],
  ["releaseBatch", "gate.decide", (viewer) => releaseBatch(viewer, { id: uuidV7(), batchId, ...signature })],
  ["listBatches", "gate.view", (viewer) => listBatches(viewer)],
  ["countBatches", "gate.view", (viewer) => countBatches(viewer)],
  ["getBatch", "gate.view", (viewer) => getBatch(viewer, TEST_BATCH)],
  ["countShipments", "gate.view", (viewer) => countShipments(viewer)],
  ["withdrawInspection", "line.withdraw", (viewer) => withdrawInspection(viewer, { id: NOBODY, reason: "why" })],
  [
    "approveBaseline",
    "drift.approve-baseline",
    (viewer) =>
      approveBaseline(viewer, {
        ...signature,
        streamId: NOBODY,
        versionSeen: 0,
        wish: { stretch: { newest: 100 }, caseId: null, causes: [] },
        previewed: "0".repeat(64),
      }),
  ],
  [
    "rollBackBaseline",
    "drift.approve-baseline",
    (viewer) => rollBackBaseline(viewer, { ...signature, streamId: NOBODY, versionSeen: 0, version: 1, caseId: null }),
  ],
  [
    "chooseTests",
    "drift.approve-baseline",
    (viewer) => chooseTests(viewer, { streamId: NOBODY, versionSeen: 0, tests: ["ewma"], reason: "slow growth" }),
  ],
  ["readBaselinePage", "drift.view", (viewer) => readBaselinePage(viewer, NOBODY, null)],
  [
    "readBaselineDifference",
    "drift.view",
    (viewer) => readBaselineDifference(viewer, NOBODY, { earlier: 1, later: 2 }),
  ],
  [
    "addEvent",
    "drift.add-event",
    (viewer) =>
      addEvent(viewer, { id: uuidV7(), kind: "other", at: new Date().toISOString(), text: "something happened" }),
  ],
  [
    "correctEvent",
    "drift.add-event",
    (viewer) => correctEvent(viewer, { id: uuidV7(), eventId: NOBODY, reason: "entered twice", instead: null }),
  ],
  ["listEvents", "drift.view", (viewer) => listEvents(viewer)],
  ["listEventLines", "drift.view", (viewer) => listEventLines(viewer)],
  ["listStreams", "drift.view", (viewer) => listStreams(viewer)],
  ["getStream", "drift.view", (viewer) => getStream(viewer, NOBODY)],
  ["readStreamScheme", "drift.view", (viewer) => readStreamScheme(viewer, NOBODY)],
  ["getStreamCapability", "drift.view", (viewer) => getStreamCapability(viewer, NOBODY)],
  ["getOffset", "drift.view", (viewer) => getOffset(viewer, { line: "L1" })],
  ["getFrameRecord", "records.view", (viewer) => getFrameRecord(viewer, "T-0001")],
  ["searchEverything", "records.view", (viewer) => searchEverything(viewer, "T-0001")],
  ["createPerson", "people.manage", (viewer) => createPerson(viewer, { name: name(), roles: ["dock"] })],
  ["changeRoles", "people.manage", (viewer) => changeRoles(viewer, { personId: NOBODY, roles: ["dock"] })],
  ["deactivatePerson", "people.manage", (viewer) => deactivatePerson(viewer, { personId: NOBODY })],
  [
    "decideRoleRequest",
    "people.manage",
    (viewer) => decideRoleRequest(viewer, { id: NOBODY, decision: "confirm", password: PASSWORD }),
  ],
  ["setPassword", "people.manage", (viewer) => setPassword(viewer, { personId: NOBODY, newPassword: PASSWORD })],
  ["changeBadge", "people.manage", (viewer) => changeBadge(viewer, { personId: NOBODY, badgeCode: name() })],
  ["correctPerson", "people.manage", (viewer) => correctPerson(viewer, { personId: NOBODY, name: "Nobody" })],
  [
    "giveSignIn",
    "people.manage",
    (viewer) => giveSignIn(viewer, { personId: NOBODY, email: "nobody@plant.example", password: PASSWORD }),
  ],
  ["listPeople", "people.view", (viewer) => listPeople(viewer)],
  ["createToken", "tokens.manage", (viewer) => createToken(viewer, { name: name(), scopes: ["gate:read"] })],
  ["revokeToken", "tokens.manage", (viewer) => revokeToken(viewer, { tokenId: NOBODY })],
  ["listTokens", "tokens.view", (viewer) => listTokens(viewer)],
  [
    "changeNamedPart",
    "setup.draft",
    (viewer) => changeNamedPart(viewer, { part: "line", key: "NONE", version: 0, name: "a line", inUse: true }),
  ],
  [
    "changeOperation",
    "setup.draft",
    (viewer) => changeOperation(viewer, { key: "NONE", version: 0, name: "one", position: 1 }),
  ],
  [
    "changeStation",
    "setup.draft",
    (viewer) => changeStation(viewer, { key: "NONE", version: 0, name: "one", viewingSide: "ds", inUse: true }),
  ],
  ["changePlant", "setup.draft", (viewer) => changePlant(viewer, { version: 0, name: "A plant", timeZone: "UTC" })],
  [
    "changeGauge",
    "gauges.manage",
    (viewer) => changeGauge(viewer, { key: "NONE", version: 0, name: "one", resolutionUm: 1, inUse: true }),
  ],
  [
    "changeSettingRing",
    "gauges.manage",
    (viewer) =>
      changeSettingRing(viewer, { key: "NONE", version: 0, certifiedSizeMm: 41, uncertaintyUm: 1, inUse: true }),
  ],
  [
    "createSettingRing",
    "gauges.manage",
    (viewer) => createSettingRing(viewer, { key: name(), certifiedSizeMm: 41, uncertaintyUm: 1 }),
  ],
  [
    "addCalibration",
    "gauges.manage",
    (viewer) =>
      addCalibration(viewer, {
        gauge: "NONE",
        at: "2026-01-01T00:00:00Z",
        dueAt: "2026-02-01T00:00:00Z",
        biasUm: null,
        certificate: "",
      }),
  ],
  ["createLine", "setup.draft", (viewer) => createLine(viewer, { key: name(), name: "a line" })],
  [
    "createBatch",
    "setup.draft",
    (viewer) =>
      createBatch(viewer, { key: name(), supplier: "NONE", model: "M1", line: "L1", plan: "P1", serials: [] }),
  ],
  ["releaseDrawing", "setup.release", (viewer) => releaseDrawing(viewer, NOBODY)],
  ["releasePlan", "setup.release", (viewer) => releasePlan(viewer, NOBODY)],
  ["getSetupOverview", "setup.view", (viewer) => getSetupOverview(viewer)],
  ["listDrawings", "setup.view", (viewer) => listDrawings(viewer)],
  ["listPlans", "setup.view", (viewer) => listPlans(viewer)],
  ["getDrawingRevision", "setup.view", (viewer) => getDrawingRevision(viewer, plant.drawingRevisionId)],
  ["getPlanRevision", "setup.view", (viewer) => getPlanRevision(viewer, NOBODY)],
  ["getPlant", "setup.view", (viewer) => getPlant(viewer)],
  ["listNewestBatches", "setup.view", (viewer) => listNewestBatches(viewer)],
  ["listOperations", "setup.view", (viewer) => listOperations(viewer)],
  ["listFirstSteps", "setup.view", (viewer) => listFirstSteps(viewer)],
  ["listGauges", "gauges.view", (viewer) => listGauges(viewer)],
  ["listRings", "gauges.view", (viewer) => listRings(viewer)],
  ["listMessages", "messages.view", (viewer) => listMessages(viewer)],
  ["getMessage", "messages.view", (viewer) => getMessage(viewer, NOBODY)],
  ["messageFile", "messages.view", (viewer) => messageFile(viewer, NOBODY)],
  ["acknowledgeMessage", "messages.acknowledge", (viewer) => acknowledgeMessage(viewer, { id: NOBODY })],
  ["getSending", "sending.view", (viewer) => getSending(viewer)],
  ["getWebhook", "sending.view", (viewer) => getWebhook(viewer, NOBODY)],
  [
    "changeMailServer",
    "sending.manage",
    (viewer) => changeMailServer(viewer, { host: "127.0.0.1", port: 1, security: "none", from: "a@plant.example" }),
  ],
  ["tryMailServer", "sending.manage", (viewer) => tryMailServer(viewer)],
  ["removeMailServer", "sending.manage", (viewer) => removeMailServer(viewer)],
  [
    "changeMessageTimes",
    "sending.manage",
    (viewer) => changeMessageTimes(viewer, { shiftStarts: ["06:00"], ownNetwork: false }),
  ],
  [
    "addSubscription",
    "sending.manage",
    (viewer) => addSubscription(viewer, { role: "dock", kinds: ["batch.held"], channel: "app", timing: "at once" }),
  ],
  ["removeSubscription", "sending.manage", (viewer) => removeSubscription(viewer, { id: NOBODY })],
  ["sendMailAgain", "sending.manage", (viewer) => sendMailAgain(viewer, { id: NOBODY })],
  [
    "addWebhook",
    "sending.manage",
    (viewer) => addWebhook(viewer, { name: "erp", url: "https://erp.example", kinds: ["batch.held"] }),
  ],
  [
    "changeWebhook",
    "sending.manage",
    (viewer) =>
      changeWebhook(viewer, {
        id: NOBODY,
        version: 0,
        name: "erp",
        url: "https://erp.example",
        kinds: ["batch.held"],
        active: true,
      }),
  ],
  ["rotateSecret", "sending.manage", (viewer) => rotateSecret(viewer, { id: NOBODY })],
  ["resendDelivery", "sending.manage", (viewer) => resendDelivery(viewer, { id: NOBODY })],
  ["getJournal", "journal.view", (viewer) => getJournal(viewer)],
  ["listJobs", "jobs.view", (viewer) => listJobs(viewer)],
  ["tryJobAgain", "jobs.manage", (viewer) => tryJobAgain(viewer, { name: "upkeep.tidy", id: NOBODY })],
  ["tryKindAgain", "jobs.manage", (viewer) => tryKindAgain(viewer, { name: "upkeep.tidy" })],
  ["giveUpJob", "jobs.manage", (viewer) => giveUpJob(viewer, { name: "upkeep.tidy", id: NOBODY, reason: "why" })],
  ["listJournalChecks", "journal.view", (viewer) => listJournalChecks(viewer)],
  ["askJournalCheck", "journal.verify", (viewer) => askJournalCheck(viewer, { anchor: "no anchor" })],
];

async function refusalOf(work: () => unknown): Promise<string | null> {
  try {
    await work();
    return null;
  } catch (error) {
    if (error instanceof AppError) return error.code;
    throw error;
  }
}

describe("every command and query, by everybody", () => {
  it.each(COMMANDS)("%s", async (_, action, run) => {
    for (const { name: who, viewer } of callers) {
      const code = await refusalOf(() => run(viewer));
      expect([who, code !== "forbidden"]).toEqual([who, mayDo(viewer, action)]);
    }
  });

  it.each([
    ["getFrameRecord", (viewer: Viewer) => getFrameRecord(viewer, "T-0001")],
    ["getBatch", (viewer: Viewer) => getBatch(viewer, batchId)],
    ["getDrawingRevision", (viewer: Viewer) => getDrawingRevision(viewer, plant.drawingRevisionId)],
    ["withdrawInspection", (viewer: Viewer) => withdrawInspection(viewer, { id: measured, reason: "why" })],
    ["decideFrames", (viewer: Viewer) => decideFrames(viewer, { ...decision("scrap"), password: PASSWORD })],
    [
      "releaseBatch",
      (viewer: Viewer) => releaseBatch(viewer, { id: uuidV7(), batchId, ...signature, password: PASSWORD }),
    ],
  ])("%s does not know the rows of another plant", async (_, run) => {
    expect(await refusalOf(() => run(foreigner.viewer))).toBe("not-found");
  });
});
