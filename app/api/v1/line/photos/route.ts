import { keepPhotoSchema } from "@/lib/schemas/photo";
import { keepPhoto } from "@/lib/server/attachments/commands";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Keeps a photo with its inspection. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: keepPhotoSchema },
  maxBodyBytes: 2.2 * 2 ** 20,
  handler: ({ viewer, body }) => keepPhoto(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
