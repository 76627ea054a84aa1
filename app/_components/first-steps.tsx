import Link from "next/link";
import { mayDo } from "@/lib/server/auth/permissions";
import type { Viewer } from "@/lib/server/auth/viewer";
import type { FirstStep } from "@/lib/server/plant/first-steps";
import { StateMark } from "@/lib/ui/state-mark";
import { APP_WORDS } from "./words";
import styles from "./first-steps.module.css";

const words = APP_WORDS.firstSteps;

const MOST_NAMES = 3;

/** Whom to ask by name; what an administrator does where there is nobody. */
function whomToAsk(names: readonly string[]): string {
  if (names.length === 0) return words.nobodyHasRoleForYet;
  const others = names.length > MOST_NAMES ? words.orMore(names.length - MOST_NAMES) : "";
  return words.ask(names.slice(0, MOST_NAMES).join(", "), others);
}

/** What is still missing before a first frame can be measured, in the order in which it can be made; nothing once all is there. */
export function FirstSteps({ viewer, steps }: Readonly<{ viewer: Viewer; steps: readonly FirstStep[] }>) {
  const next = steps.find((step) => !step.done);
  if (next === undefined) return null;
  const there = steps.filter((step) => step.done).length;
  return (
    <section className={styles.steps} aria-labelledby="first-steps">
      <h2 id="first-steps">
        {there === 0 ? words.beforeFirstFrame : words.ofAreBeforeFirstFrame(there, steps.length)}
      </h2>
      <ol>
        {steps.map((step) => (
          <li key={step.key} aria-current={step === next ? "step" : undefined}>
            <StateMark
              state={step.done ? "released" : "unmeasured"}
              word={step.done ? words.there : words.missing}
              size="s"
            />
            <div>
              {step.done || !mayDo(viewer, step.needs) ? (
                <b>{step.title}</b>
              ) : (
                <Link href={step.href}>{step.title}</Link>
              )}
              <p>{step.why}</p>
              {step.done || mayDo(viewer, step.needs) ? null : <p className="soft">{whomToAsk(step.ask)}</p>}
            </div>
          </li>
        ))}
      </ol>
    </section>
  );
}
