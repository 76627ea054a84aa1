import { useId } from "react";
import { Field } from "./field";
import { UI_WORDS } from "./words";

const words = UI_WORDS.signatureFields;

/**
 * What every signature has: why, and the signer's own password.
 *
 * @param isReasonGiven - each part of what is signed has its reason already
 */
export function SignatureFields({ isReasonGiven = false }: Readonly<{ isReasonGiven?: boolean }>) {
  const id = useId();
  return (
    <>
      {isReasonGiven ? null : (
        <Field id={`${id}-grounds`} look="framed" label={words.reason}>
          {(control) => (
            <input {...control} name="grounds" required minLength={3} maxLength={2000} autoComplete="off" />
          )}
        </Field>
      )}
      <Field id={`${id}-password`} look="framed" label={words.yourPasswordAsSignature}>
        {(control) => (
          <input
            {...control}
            name="password"
            type="password"
            required
            maxLength={128}
            autoComplete="current-password"
          />
        )}
      </Field>
    </>
  );
}

/** What was typed into them. The password goes as it is, blanks too. */
export function signatureOf(fields: FormData): { readonly grounds: string; readonly password: string } {
  return { grounds: String(fields.get("grounds") ?? ""), password: String(fields.get("password") ?? "") };
}
