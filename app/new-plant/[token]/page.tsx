import type { Metadata } from "next";
import { isOpenSetUpLink } from "@/lib/server/people/new-plant";
import { ButtonLink } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { SetUpForm } from "./_components/new-plant-form";
import { NEW_PLANT_WORDS } from "../words";
import styles from "./new-plant.module.css";

const words = NEW_PLANT_WORDS.page;

// The address is the key: it goes to no other site and into no search index.
export const metadata: Metadata = { title: words.setUp, referrer: "no-referrer", robots: { index: false } };

export default async function SetUpPage({ params }: PageProps<"/new-plant/[token]">) {
  const { token } = await params;
  const isOpen = await isOpenSetUpLink(token);
  return (
    <main id="main" className={styles.page}>
      <p className={styles.brand}>{words.shellgate}</p>
      {isOpen ? (
        <>
          <h1 className={styles.title}>{words.newPlant}</h1>
          <p className={styles.lead}>{words.linkWorksOnce}</p>
          <SetUpForm token={token} />
        </>
      ) : (
        <>
          <h1 className="visuallyHidden">{words.setUp}</h1>
          <EmptyState
            title={words.setUpLinkDoes}
            keys={
              <ButtonLink href="/sign-in" kind="go">
                {words.signIn}
              </ButtonLink>
            }
          >
            {words.wasUsed}
          </EmptyState>
        </>
      )}
    </main>
  );
}
