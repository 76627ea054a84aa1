import { z } from "zod";

export const key = z
  .string()
  .trim()
  .min(1, "must not be empty")
  .max(64, "must have at most 64 characters")
  .regex(
    /^([A-Za-z0-9][A-Za-z0-9._ -]*)?$/,
    "must begin with a letter or digit and have letters, digits, spaces, points, hyphens or underscores only",
  );

export const name = z.string().trim().min(1, "must not be empty").max(200, "must have at most 200 characters");

/** The version that whoever changes a part was looking at. */
export const version = z.int().min(0);
