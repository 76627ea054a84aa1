import "server-only";
import { bool, columnsOf, instant, nullable, text } from "./table-columns";

/** The sign-in library's table of who can sign in. */
export const authUserColumns = columnsOf("auth_user", {
  id: text,
  name: text,
  email: text,
  emailVerified: bool,
  image: nullable(text),
  createdAt: instant,
  updatedAt: instant,
});
