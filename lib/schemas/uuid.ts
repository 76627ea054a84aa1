import { z } from "zod";

/** A UUID, in small letters as the database writes it: the same key in capitals is the same key. */
export const uuidSchema = z.uuid().toLowerCase();
