import type { Metadata } from "next";
import { headers } from "next/headers";
import { redirect } from "next/navigation";
import { DEMO_PASSWORD, DEMO_SIGN_INS } from "@/lib/schemas/demo-sign-ins";
import { safeNext } from "@/lib/schemas/sign-in";
import { getViewer } from "@/lib/server/auth/current-viewer";
import { mayUseDemoSignIns } from "@/lib/server/auth/demo-access";
import { unsafeIsInventedPlant } from "@/lib/server/people/queries";
import { TitleBlock } from "@/lib/ui/title-block";
import { rolesWords } from "../_components/role-words";
import { DemoSignIns } from "./_components/demo-sign-ins";
import { ShellSketch } from "./_components/shell-sketch";
import { SignInForm } from "./_components/sign-in-form";
import { SIGN_IN_WORDS } from "./words";
import styles from "./sign-in.module.css";

const words = SIGN_IN_WORDS.page;

export const metadata: Metadata = { title: words.signIn };

export default async function SignInPage({ searchParams }: PageProps<"/sign-in">) {
  const next = safeNext((await searchParams).next);
  if ((await getViewer()) !== null) redirect(next);
  const isDemo = mayUseDemoSignIns(await headers()) && (await unsafeIsInventedPlant());
  const people = DEMO_SIGN_INS.map(({ email, name, roles }) => ({
    email,
    name,
    role: rolesWords(roles),
  }));
  return (
    <main id="main" className={styles.page}>
      <div className={styles.sheet}>
        <ShellSketch />
        <div className={styles.column}>
          <p className={styles.brand}>{words.shellgate}</p>
          <h1 className={styles.title}>{words.whoIsAtBench}</h1>
          <SignInForm next={next} />
          {isDemo ? <DemoSignIns people={people} password={DEMO_PASSWORD} next={next} /> : null}
        </div>
      </div>
      <TitleBlock
        projection
        cells={[
          { label: words.plant, value: isDemo ? words.inventedForDemonstration : words.peopleOfPlantOnly },
          { label: words.signInLabel, value: words.eMailAndPassword },
          { label: words.noSignInYet, value: words.askAdministratorOfYourPlant },
          { label: words.badge, value: words.identifiesInspector },
        ]}
      />
    </main>
  );
}
