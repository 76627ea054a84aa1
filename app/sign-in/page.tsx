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
import styles from "./sign-in.module.css";

export const metadata: Metadata = { title: "Sign in" };

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
          <p className={styles.brand}>Shellgate</p>
          <h1 className={styles.title}>Who is at the bench?</h1>
          <SignInForm next={next} />
          {isDemo ? <DemoSignIns people={people} password={DEMO_PASSWORD} next={next} /> : null}
        </div>
      </div>
      <TitleBlock
        projection
        cells={[
          { label: "plant", value: isDemo ? "invented, for demonstration" : "people of the plant only" },
          { label: "sign-in", value: "e-mail and password" },
          { label: "no sign-in yet", value: "ask an administrator of your plant" },
          { label: "badge", value: "identifies the inspector; it cannot sign" },
        ]}
      />
    </main>
  );
}
