import type { Metadata } from "next";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { SetupPage } from "../_components/setup-page";
import { changeOwnPasswordAction } from "../actions";

export const metadata: Metadata = { title: "My password" };

export default async function PasswordPage() {
  const viewer = await requireViewer("/setup/password");
  return (
    <SetupPage
      viewer={viewer}
      current="password"
      title="My password"
      lead="It signs your decisions, too. Changing it signs you out everywhere, here as well."
    >
      <EntryForm
        kind="go"
        fields={[
          {
            name: "currentPassword",
            label: "current password",
            kind: "password",
            autoComplete: "current-password",
          },
          {
            name: "newPassword",
            label: "new password",
            kind: "password",
            hint: "12 characters or more",
            autoComplete: "new-password",
          },
          { name: "again", label: "the new one again", kind: "password", autoComplete: "new-password" },
        ]}
        action={changeOwnPasswordAction}
        submit="Change my password"
        done="Changed."
      />
    </SetupPage>
  );
}
