import { describe, expect, it } from "vitest";
import { safeNext } from "@/lib/schemas/sign-in";

describe("where a link may lead after signing in", () => {
  it.each(["/", "/gate", "/gate/batches/PM-2606-B?tab=frames#04412", "/drift?line=C41&x=%2F%2Fy"])("is %s", (next) => {
    expect(safeNext(next)).toBe(next);
  });

  it.each([
    "//evil.example",
    "/\\evil.example",
    "\\\\evil.example",
    "https://evil.example/gate",
    "javascript:alert(1)",
    "gate",
    "",
    " /gate",
    "/\t/evil.example",
    "/\n/evil.example",
    "/..//evil.example",
    "/./\\evil.example",
    "/sign-in",
    "/sign-in?next=/gate",
    "/new-plant/x",
    "/api/auth/sign-out",
    `/${"a".repeat(1000)}`,
    undefined,
    7,
    ["/gate"],
  ])("is never %j", (next) => {
    expect(safeNext(next)).toBe("/");
  });
});
