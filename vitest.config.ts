import path from "node:path";
import { defineConfig } from "vitest/config";

const root = import.meta.dirname;
const alias = {
  "@": root,
  "server-only": path.join(root, "tests/helpers/empty-module.ts"),
};
const shared = {
  environment: "node" as const,
  setupFiles: [path.join(root, "tests/helpers/fail-on-console.ts")],
};

export default defineConfig({
  resolve: { alias },
  test: {
    projects: [
      {
        resolve: { alias },
        test: {
          ...shared,
          name: "unit",
          include: ["tests/**/*.test.ts"],
          exclude: ["tests/server/**", "tests/rules/**", "tests/e2e/**", "tests/cli/start/**", "tests/long/**"],
          // Simulations and programs started take seconds, many more where the machine has other work: this finds what hangs.
          testTimeout: 240_000,
          hookTimeout: 240_000,
          maxWorkers: 2,
        },
      },
      {
        resolve: { alias },
        test: { ...shared, name: "rules", include: ["tests/rules/**/*.test.ts"], testTimeout: 240_000, maxWorkers: 2 },
      },
      {
        resolve: { alias },
        test: {
          ...shared,
          name: "server",
          include: ["tests/server/**/*.test.ts", "tests/cli/start/**/*.test.ts"],
          globalSetup: [path.join(root, "tests/helpers/server-global-setup.ts")],
          testTimeout: 240_000,
          hookTimeout: 240_000,
          maxWorkers: 2,
        },
      },
      {
        resolve: { alias },
        test: {
          ...shared,
          // What takes longer than npm test may: only by npm run test:long.
          name: "long",
          include: ["tests/long/**/*.test.ts"],
          globalSetup: [path.join(root, "tests/helpers/server-global-setup.ts")],
          testTimeout: 3_600_000,
          hookTimeout: 120_000,
          fileParallelism: false,
        },
      },
      {
        resolve: { alias },
        test: {
          ...shared,
          name: "e2e",
          setupFiles: [...shared.setupFiles, path.join(root, "tests/helpers/open-sign-in-door.ts")],
          include: ["tests/e2e/**/*.test.ts"],
          globalSetup: [path.join(root, "tests/helpers/e2e-global-setup.ts")],
          testTimeout: 120_000,
          hookTimeout: 300_000,
          fileParallelism: false,
        },
      },
    ],
  },
});
