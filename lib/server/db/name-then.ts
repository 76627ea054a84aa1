import "server-only";
import { constant } from "./sql";

/**
 * The name that somebody had at a moment: a name that is corrected later changes no record made before.
 *
 * @param person - alias of the table person
 * @param moment - a column with its alias, as "d.at"
 * @returns an expression of type text, null where the person is
 */
export const nameThen = (person: string, moment: string) =>
  constant(`coalesce((select n.name from former_identity n where n.plant_id = ${person}.plant_id and n.person_id = ${person}.id
    and n.until > ${moment} order by n.until limit 1), ${person}.name)`);
