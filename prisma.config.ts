import { defineConfig } from "prisma/config";

// The address is needed by the ordinary Prisma command line only; Shellgate itself migrates through lib/server/db/migrate.ts.
export default defineConfig({
  schema: "prisma/schema.prisma",
  migrations: { path: "prisma/migrations" },
  datasource: { url: process.env.DATABASE_URL ?? "" },
});
