import { apiTokenColumns } from "@/lib/server/db/columns/api-token";
import { attachmentColumns } from "@/lib/server/db/columns/attachment";
import { authUserColumns } from "@/lib/server/db/columns/auth-user";
import { batchColumns } from "@/lib/server/db/columns/batch";
import { batchSampleColumns } from "@/lib/server/db/columns/batch-sample";
import { calibrationColumns } from "@/lib/server/db/columns/calibration";
import { decisionColumns } from "@/lib/server/db/columns/decision";
import { deviceColumns } from "@/lib/server/db/columns/device";
import { drawingColumns } from "@/lib/server/db/columns/drawing";
import { drawingRevisionColumns } from "@/lib/server/db/columns/drawing-revision";
import { driftCaseColumns } from "@/lib/server/db/columns/drift-case";
import { eventColumns } from "@/lib/server/db/columns/event";
import { frameColumns } from "@/lib/server/db/columns/frame";
import { frameModelColumns } from "@/lib/server/db/columns/frame-model";
import { gaugeColumns } from "@/lib/server/db/columns/gauge";
import { inspectionColumns } from "@/lib/server/db/columns/inspection";
import { journalChainColumns } from "@/lib/server/db/columns/journal-chain";
import { journalEntryColumns } from "@/lib/server/db/columns/journal-entry";
import { limitSetColumns } from "@/lib/server/db/columns/limit-set";
import { lineColumns } from "@/lib/server/db/columns/line";
import { measuringPlanColumns } from "@/lib/server/db/columns/measuring-plan";
import { measuringPlanRevisionColumns } from "@/lib/server/db/columns/measuring-plan-revision";
import { operationColumns } from "@/lib/server/db/columns/operation";
import { personColumns } from "@/lib/server/db/columns/person";
import { plantColumns } from "@/lib/server/db/columns/plant";
import { sampledLotColumns } from "@/lib/server/db/columns/sampled-lot";
import { samplingSchemeColumns } from "@/lib/server/db/columns/sampling-scheme";
import { settingRingColumns } from "@/lib/server/db/columns/setting-ring";
import { signalColumns } from "@/lib/server/db/columns/signal";
import { stationColumns } from "@/lib/server/db/columns/station";
import { streamBaselineColumns } from "@/lib/server/db/columns/stream-baseline";
import { streamTestsColumns } from "@/lib/server/db/columns/stream-tests";
import { streamColumns } from "@/lib/server/db/columns/stream";
import { supplierColumns } from "@/lib/server/db/columns/supplier";
import { zeroCheckColumns } from "@/lib/server/db/columns/zero-check";

/** Every reader of lib/server/db/columns by the name that statements call it by. */
export const COLUMN_READERS = {
  apiTokenColumns,
  attachmentColumns,
  authUserColumns,
  batchColumns,
  batchSampleColumns,
  calibrationColumns,
  decisionColumns,
  deviceColumns,
  drawingColumns,
  drawingRevisionColumns,
  driftCaseColumns,
  eventColumns,
  frameColumns,
  frameModelColumns,
  gaugeColumns,
  inspectionColumns,
  journalChainColumns,
  journalEntryColumns,
  limitSetColumns,
  lineColumns,
  measuringPlanColumns,
  measuringPlanRevisionColumns,
  operationColumns,
  personColumns,
  plantColumns,
  sampledLotColumns,
  samplingSchemeColumns,
  settingRingColumns,
  signalColumns,
  stationColumns,
  streamBaselineColumns,
  streamTestsColumns,
  streamColumns,
  supplierColumns,
  zeroCheckColumns,
};
