import { Button } from "@/lib/ui/button";
import { APP_WORDS } from "./words";

const words = APP_WORDS.signOut;

/** Ends the session; works without script. Readings that wait on this device stay on it. */
export function SignOut() {
  return (
    <form method="post" action="/api/auth/sign-out">
      <Button type="submit" wide>
        {words.signOut}
      </Button>
    </form>
  );
}
