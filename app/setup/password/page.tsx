import type { Metadata } from "next";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { SetupPage } from "../_components/setup-page";
import { changeOwnPasswordAction } from "../actions";
import { SETUP_WORDS } from "../words/first-page";

const words = SETUP_WORDS.password;

export const metadata: Metadata = { title: words.myPassword };

export default async function PasswordPage() {
  const viewer = await requireViewer("/setup/password");
  return (
    <SetupPage viewer={viewer} current="password" title={words.myPassword} lead={words.lead}>
      <EntryForm
        kind="go"
        fields={[
          {
            name: "currentPassword",
            label: words.currentPassword,
            kind: "password",
            autoComplete: "current-password",
          },
          {
            name: "newPassword",
            label: words.newPassword,
            kind: "password",
            hint: words.passwordLength,
            autoComplete: "new-password",
          },
          { name: "again", label: words.newOneAgain, kind: "password", autoComplete: "new-password" },
        ]}
        action={changeOwnPasswordAction}
        submit={words.changeMyPassword}
        done={words.changed}
      />
    </SetupPage>
  );
}
