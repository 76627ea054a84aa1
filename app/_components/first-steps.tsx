import Link from "next/link";
import { mayDo } from "@/lib/server/auth/permissions";
import type { Viewer } from "@/lib/server/auth/viewer";
import type { FirstStep } from "@/lib/server/plant/first-steps";
import { StateMark } from "@/lib/ui/state-mark";
import styles from "./first-steps.module.css";

const MOST_NAMES = 3;

/** Whom to ask by name; what an administrator does where there is nobody. */
function whomToAsk(names: readonly string[]): string {
  if (names.length === 0) return "Nobody has a role for this yet: an administrator gives it under People.";
  const others = names.length > MOST_NAMES ? ` or ${names.length - MOST_NAMES} more` : "";
  return `Ask ${names.slice(0, MOST_NAMES).join(", ")}${others}.`;
}

/** What is still missing before a first frame can be measured, in the order in which it can be made; nothing once all is there. */
export function FirstSteps({ viewer, steps }: Readonly<{ viewer: Viewer; steps: readonly FirstStep[] }>) {
  const next = steps.find((step) => !step.done);
  if (next === undefined) return null;
  const there = steps.filter((step) => step.done).length;
  return (
    <section className={styles.steps} aria-labelledby="first-steps">
      <h2 id="first-steps">
        {there === 0 ? "Before the first frame" : `${there} of ${steps.length} are there before the first frame`}
      </h2>
      <ol>
        {steps.map((step) => (
          <li key={step.key} aria-current={step === next ? "step" : undefined}>
            <StateMark state={step.done ? "released" : "unmeasured"} word={step.done ? "there" : "missing"} size="s" />
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
