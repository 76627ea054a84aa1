import type { Metadata } from "next";
import { isOpenSetUpLink } from "@/lib/server/people/new-plant";
import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { SetUpForm } from "./_components/new-plant-form";
import styles from "./new-plant.module.css";

// The address is the key: it goes to no other site and into no search index.
export const metadata: Metadata = { title: "Set up", referrer: "no-referrer", robots: { index: false } };

export default async function SetUpPage({ params }: PageProps<"/new-plant/[token]">) {
  const { token } = await params;
  const isOpen = await isOpenSetUpLink(token);
  return (
    <main id="main" className={styles.page}>
      <p className={styles.brand}>Shellgate</p>
      {isOpen ? (
        <>
          <h1 className={styles.title}>A new plant</h1>
          <p className={styles.lead}>
            This link works once. You become the first administrator, and an engineer too, so that drawings and plans
            can be made before anybody else is there. Everybody else gets a sign-in from you.
          </p>
          <SetUpForm token={token} />
        </>
      ) : (
        <EmptyState
          title="This set-up link does not work any more"
          keys={
            <ButtonLink href="/sign-in" kind="go">
              Sign in
            </ButtonLink>
          }
        >
          It was used, has expired after 24 hours, or a newer one was made. If the plant is not set up yet, start
          Shellgate again: it prints a new link.
        </EmptyState>
      )}
    </main>
  );
}
