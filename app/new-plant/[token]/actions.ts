"use server";

import { redirect } from "next/navigation";
import { setUpPlantSchema } from "@/lib/schemas/sign-in";
import { definePublicAction } from "@/lib/server/doors/action";
import { setUpPlant } from "@/lib/server/people/new-plant";

export const setUpAction = definePublicAction(setUpPlantSchema, async (input): Promise<null> => {
  await setUpPlant(input);
  redirect("/sign-in");
});
