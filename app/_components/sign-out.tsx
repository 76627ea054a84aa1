import { Button } from "@/lib/ui/button";

/** Ends the session; works without script. Readings that wait on this device stay on it. */
export function SignOut() {
  return (
    <form method="post" action="/api/auth/sign-out">
      <Button type="submit" wide>
        Sign out
      </Button>
    </form>
  );
}
