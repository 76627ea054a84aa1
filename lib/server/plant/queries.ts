import "server-only";
import { AppError } from "@/lib/errors";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { drawingColumns } from "../db/columns/drawing";
import { frameModelColumns } from "../db/columns/frame-model";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { plantColumns } from "../db/columns/plant";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { PLANT_WORDS } from "./words";

const words = PLANT_WORDS.queries;

export const iso = (time: Date | null): string | null => time?.toISOString() ?? null;

export type OperationItem = {
  readonly key: string;
  readonly name: string;
  readonly position: number;
  readonly version: number;
};

const operationItem = operationColumns("operation", ["key", "name", "position", "version"]);

/** Operations in the order of the route. */
export async function listOperations(viewer: Viewer): Promise<readonly OperationItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<RowOf<typeof operationItem>>(
    sql`select ${operationItem} from operation where plant_id = ${viewer.plantId} order by position, key`,
  );
  return rows;
}

export type SetupOverview = {
  readonly lines: readonly {
    readonly key: string;
    readonly name: string;
    readonly inUse: boolean;
    readonly version: number;
    readonly stations: readonly {
      readonly key: string;
      readonly name: string;
      readonly operation: string;
      readonly viewingSide: "ds" | "nds";
      readonly inUse: boolean;
      readonly version: number;
    }[];
  }[];
  readonly suppliers: readonly {
    readonly key: string;
    readonly name: string;
    readonly inUse: boolean;
    readonly version: number;
    readonly batches: number;
  }[];
  readonly models: readonly {
    readonly key: string;
    readonly name: string;
    readonly inUse: boolean;
    readonly version: number;
    readonly drawing: string;
  }[];
};

const lineItem = lineColumns("l", { key: "key", name: "name", inUse: "active", version: "version" });
const supplierItem = supplierColumns("s", { key: "key", name: "name", inUse: "active", version: "version" });
const modelItem = together(
  frameModelColumns("m", { key: "key", name: "name", inUse: "active", version: "version" }),
  drawingColumns("d", { drawing: "key" }),
);

/** Lines with their stations, suppliers and frame models of the plant, those out of use last. */
export async function getSetupOverview(viewer: Viewer): Promise<SetupOverview> {
  assertMay(viewer, "setup.view");
  const { plantId } = viewer;
  const pool = getPool();
  const [lines, suppliers, models] = await Promise.all([
    pool.query<RowOf<typeof lineItem> & Pick<SetupOverview["lines"][number], "stations">>(sql`
      select ${lineItem}, coalesce(jsonb_agg(jsonb_build_object('key', s.key, 'name', s.name,
        'operation', o.name, 'viewingSide', s.viewing_side, 'inUse', s.active, 'version', s.version)
        order by s.active desc, s.key) filter (where s.id is not null), '[]') as stations
      from line l left join station s on s.plant_id = l.plant_id and s.line_id = l.id
      left join operation o on o.plant_id = s.plant_id and o.id = s.operation_id
      where l.plant_id = ${plantId} group by l.plant_id, l.id order by l.active desc, l.key`),
    pool.query<RowOf<typeof supplierItem> & { batches: number }>(sql`
      select ${supplierItem}, (select count(*)::int from batch b
        where b.plant_id = s.plant_id and b.supplier_id = s.id) as batches
      from supplier s where s.plant_id = ${plantId} order by s.active desc, s.key`),
    pool.query<RowOf<typeof modelItem>>(sql`
      select ${modelItem}
      from frame_model m join drawing d on d.plant_id = m.plant_id and d.id = m.drawing_id
      where m.plant_id = ${plantId} order by m.active desc, m.key`),
  ]);
  return { lines: lines.rows, suppliers: suppliers.rows, models: models.rows };
}

const plantHead = plantColumns("plant", ["name", "timeZone", "invented", "version"]);
export type PlantHead = RowOf<typeof plantHead>;

/** Name and time zone of the plant. @throws AppError forbidden */
export async function getPlant(viewer: Viewer): Promise<PlantHead> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<PlantHead>(sql`select ${plantHead} from plant where id = ${viewer.plantId}`);
  if (!rows[0]) throw new AppError("not-found", words.isNoSuchPlant);
  return rows[0];
}
