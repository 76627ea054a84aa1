"use client";

import { useActionState, useId, useState } from "react";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { Field } from "@/lib/ui/field";
import { setUpAction } from "../actions";
import { NEW_PLANT_WORDS } from "../../words";
import styles from "../new-plant.module.css";

const words = NEW_PLANT_WORDS.form;

const FIELDS = [
  { name: "plantName", label: words.nameOfPlant, type: "text", autoComplete: "organization", maxLength: 80 },
  { name: "timeZone", label: words.timeZoneOfPlant, type: "text", autoComplete: "off", maxLength: 60 },
  { name: "name", label: words.yourName, type: "text", autoComplete: "name", maxLength: 80 },
  { name: "email", label: words.yourEMail, type: "email", autoComplete: "username", maxLength: 200 },
  {
    name: "password",
    label: words.aPassword,
    type: "password",
    autoComplete: "new-password",
    maxLength: 128,
  },
] as const;

type FieldName = (typeof FIELDS)[number]["name"];
type Values = Readonly<Record<FieldName, string>>;

const EMPTY: Values = { plantName: "", timeZone: "", name: "", email: "", password: "" };

/** Plant and first administrator. What was typed stays when something of it is refused. */
export function SetUpForm({ token }: Readonly<{ token: string }>) {
  const [result, submit, isPending] = useActionState(setUpAction, null);
  const id = useId();
  const [values, setValues] = useState<Values>(EMPTY);
  const error = result?.ok === false ? result.error : null;
  const problemOf = (name: string) => error?.fields?.find((field) => field.path === name)?.message;
  return (
    <form action={submit} className={styles.form}>
      <input type="hidden" name="token" value={token} />
      {FIELDS.map(({ name, label, ...input }) => (
        <Field key={name} id={`${id}-${name}`} look="framed" label={label} problem={problemOf(name)}>
          {(control) => (
            <input
              {...input}
              {...control}
              name={name}
              required
              value={values[name]}
              onChange={(event) => setValues({ ...values, [name]: event.target.value })}
              list={name === "timeZone" ? "time-zones" : undefined}
              placeholder={name === "timeZone" ? words.timeZoneExample : undefined}
            />
          )}
        </Field>
      ))}
      <datalist id="time-zones">
        {Intl.supportedValuesOf("timeZone").map((zone) => (
          <option key={zone} value={zone} />
        ))}
      </datalist>
      {error ? (
        <ErrorNotice title={words.notSetUpYet}>
          <p>{error.fields ? words.lookAtFieldsMarkedAbove : error.message}</p>
        </ErrorNotice>
      ) : null}
      <Button type="submit" kind="go" size="touch" wide disabled={isPending}>
        {isPending ? words.settingUp : words.setUpPlant}
      </Button>
    </form>
  );
}
