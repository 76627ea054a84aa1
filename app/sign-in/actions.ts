"use server";

import { headers } from "next/headers";
import { redirect } from "next/navigation";
import { signInSchema } from "@/lib/schemas/sign-in";
import { definePublicAction } from "@/lib/server/doors/action";
import { sendCookies } from "@/lib/server/auth/response-cookies";
import { signIn } from "@/lib/server/auth/sign-in";

export const signInAction = definePublicAction(signInSchema, async ({ email, password, next }): Promise<null> => {
  await sendCookies(await signIn({ email, password }, await headers()));
  redirect(next);
});
