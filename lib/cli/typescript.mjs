import { register as registerHooks } from "node:module";
import path from "node:path";
import { ROOT } from "./root.mjs";

// Resolves as `node --conditions=react-server` does, so that "server-only" is the empty module it is on a server.
const conditions = `export const resolve = (specifier, context, next) =>
  next(specifier, { ...context, conditions: [...context.conditions, "react-server"] });`;

let registered = false;

/** Makes this process able to import the project's TypeScript. */
export async function enableTypeScript() {
  if (registered) return;
  registered = true;
  const { register } = await import("tsx/esm/api");
  register({ tsconfig: path.join(ROOT, "tsconfig.json") });
  registerHooks(`data:text/javascript,${encodeURIComponent(conditions)}`);
}
