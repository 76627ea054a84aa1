import { expect, it } from "vitest";
import nextConfig from "@/next.config";
import { addressPart } from "@/app/_components/address-part";

it.each(["C41-04001", "50%", "A%B", "100 % x", "a/b?c#d e", "ä€😀", "%", "..", "a+b", "a&b=c"])(
  "a serial %j is the same behind its link, in the page and in its title",
  (serial) => {
    expect(addressPart(encodeURIComponent(serial))).toBe(serial);
    // As Next gives it to a title: decoded already.
    expect(addressPart(serial)).toBe(serial);
  },
);

it("attachments have a policy of their own, which runs nothing, and everything else the plant's", async () => {
  const rules = (await nextConfig.headers?.()) ?? [];
  const policiesOf = (address: string): string[] =>
    rules
      .filter(({ source }) => new RegExp(`^${source.replace(":path*", ".*")}$`).test(address))
      .flatMap(({ headers }) =>
        headers.filter(({ key }) => key === "Content-Security-Policy").map(({ value }) => value),
      );
  expect(policiesOf("/api/v1/attachments/01890000-0000-7000-8000-000000000001")).toEqual([
    "default-src 'none'; sandbox",
  ]);
  for (const address of ["/", "/frames/A%25B", "/api/v1/health", "/api/v1/attachments"])
    expect(policiesOf(address)).toEqual([expect.stringContaining("frame-ancestors 'none'")]);
});
