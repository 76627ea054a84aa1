import { keepPhotoSchema } from "@/lib/schemas/photo";
import { keepPhoto } from "@/lib/server/attachments/commands";
import { defineRoute } from "@/lib/server/route";

/** Keeps a photo with its inspection. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: keepPhotoSchema },
  maxBodyBytes: 2.2 * 2 ** 20,
  handler: ({ viewer, body }) => keepPhoto(viewer, body),
});
