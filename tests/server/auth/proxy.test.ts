import { unstable_doesMiddlewareMatch } from "next/experimental/testing/server";
import { NextRequest } from "next/server";
import { describe, expect, it } from "vitest";
import { config, proxy } from "@/proxy";

const visit = (path: string, cookie?: string) =>
  proxy(new NextRequest(`http://localhost:3000${path}`, cookie === undefined ? {} : { headers: { cookie } }));
const locationOf = (response: Response) => response.headers.get("location");

describe("the way to the sign-in page", () => {
  it("is shown to visitors without a session, and back to where they wanted to go", () => {
    expect(locationOf(visit("/gate/batches/1?tab=frames"))).toBe(
      "http://localhost:3000/sign-in?next=%2Fgate%2Fbatches%2F1%3Ftab%3Dframes",
    );
    expect(locationOf(visit("/"))).toBe("http://localhost:3000/sign-in");
    expect(locationOf(visit("/gate", "theme=night"))).toContain("/sign-in");
  });

  it("is not shown to whoever brings a session cookie, plain or secure", () => {
    for (const name of ["shellgate.session_token", "__Secure-shellgate.session_token"]) {
      expect(locationOf(visit("/gate", `${name}=x`))).toBeNull();
    }
  });

  it.each(["/frames/%00", "/gate/batches/%E0%A4%A", "/frames/%ED%A0%80", "/search?q=a%00", "/drift?line=%", "/%"])(
    "gives the page that says there is nothing here for the broken address %s",
    (path) => {
      expect(visit(path, "shellgate.session_token=x").headers.get("x-middleware-rewrite")).toBe(
        "http://localhost:3000/nothing-at-this-address",
      );
    },
  );

  it("tells programs in JSON that their address is broken, and lets every other address of theirs through", async () => {
    const broken = visit("/api/v1/gate/frames/%E0%A4%A");
    expect([broken.status, broken.headers.get("content-type")]).toEqual([400, "application/problem+json"]);
    expect(await broken.json()).toMatchObject({
      code: "invalid-input",
      detail: expect.stringMatching(/Nothing was kept/),
    });
    expect(locationOf(visit("/api/v1/gate/frames/C41%2F7"))).toBeNull();
    expect(visit("/api/v1/gate/frames/C41%2F7").status).toBe(200);
    const matches = (url: string) => unstable_doesMiddlewareMatch({ config, nextConfig: {}, url });
    expect(["/api/v1/gate/frames/%E0%A4%A", "/api/v1/gauges/%/trace", "/new-plant/%ED%A0%80"].map(matches)).toEqual(
      Array(3).fill(true),
    );
    expect(matches("/api/v1/inspections")).toBe(false);
  });

  it("lets addresses with any other character through", () => {
    for (const path of ["/frames/C41%2F7", "/frames/%F0%9F%98%80", "/search?q=100%25", "/search?q=a+b&x=%20"])
      expect(visit(path, "shellgate.session_token=x").headers.get("x-middleware-rewrite")).toBeNull();
  });

  it("does not stand before machines, the sign-in, the set-up and files", () => {
    const matches = (url: string) => unstable_doesMiddlewareMatch({ config, nextConfig: {}, url });
    for (const url of ["/", "/gate", "/line/C41", "/frames/C41-04412"])
      expect([url, matches(url)]).toEqual([url, true]);
    for (const url of [
      "/api/v1/health",
      "/sign-in",
      "/new-plant/abc",
      "/_next/static/x.js",
      "/icon.svg",
      "/worker.js",
    ]) {
      expect([url, matches(url)]).toEqual([url, false]);
    }
  });
});
