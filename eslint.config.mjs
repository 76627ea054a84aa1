import babelParser from "@babel/eslint-parser";
import reactHooks from "eslint-plugin-react-hooks";

const parserOptions = {
  requireConfigFile: false,
  sourceType: "module",
  babelOptions: {
    babelrc: false,
    configFile: false,
    presets: [["@babel/preset-typescript", { ignoreExtensions: true }]],
    parserOpts: { plugins: ["typescript", "jsx"] },
  },
};

const ban = (selector, message) => ({ selector, message });

const everywhere = [
  ban(
    "CallExpression[callee.property.name='$transaction']",
    "Use inSqlTransaction of lib/server/db/transaction.ts: it retries conflicts.",
  ),
  ban("DebuggerStatement", "Remove the debugger statement."),
];
const inCore = [
  ban(
    "MemberExpression[object.name='Math'][property.name='random']",
    "Core takes a seeded generator as an argument (lib/core/numerics).",
  ),
  ban("MemberExpression[object.name='Date'][property.name='now']", "Core has no clock: pass the time in."),
  ban("NewExpression[callee.name='Date'][arguments.length=0]", "Core has no clock: pass the time in."),
  ban("MemberExpression[object.name='console']", "Core does not log: throw CoreError or return a reason."),
  ban("MemberExpression[object.name='process']", "Core has no environment."),
  ban("CallExpression[callee.property.name=/^toLocale/]", "Core has no locale: lib/format writes numbers for people."),
];
const noAssertion = ban("TSNonNullExpression", "`!` is allowed only in lib/core loops bounded by that array's length.");
const bareCloseTo = ban(
  "CallExpression[callee.property.name='toBeCloseTo'][arguments.length=1]",
  "Bare toBeCloseTo allows 0.005: use expectDigits of tests/helpers.",
);

export default [
  { ignores: ["node_modules/**", ".next/**", ".data/**", "lib/server/db/generated/**", "public/**", "next-env.d.ts"] },
  {
    files: ["**/*.{ts,tsx,mjs}"],
    languageOptions: { parser: babelParser, parserOptions },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    plugins: { "react-hooks": reactHooks },
    rules: {
      "no-restricted-syntax": ["error", ...everywhere],
      eqeqeq: "error",
      "no-var": "error",
      "prefer-const": "error",
      "no-empty": ["error", { allowEmptyCatch: false }],
      "no-constant-condition": "error",
      "no-self-compare": "error",
      "no-unreachable": "error",
      "react-hooks/rules-of-hooks": "error",
      "react-hooks/exhaustive-deps": "error",
    },
  },
  { files: ["lib/core/**/*.ts"], rules: { "no-restricted-syntax": ["error", ...everywhere, ...inCore] } },
  {
    files: ["lib/{quality,schemas,format,charts,ui,server,cli,offline}/**/*.{ts,tsx}", "app/**/*.{ts,tsx}"],
    rules: { "no-restricted-syntax": ["error", ...everywhere, noAssertion] },
  },
  {
    files: ["app/**/actions.ts"],
    rules: {
      "no-restricted-syntax": [
        "error",
        ...everywhere,
        noAssertion,
        ban(
          "ExportNamedDeclaration > FunctionDeclaration[async=true]",
          "Make actions with defineAction(schema, handler).",
        ),
      ],
    },
  },
  { files: ["tests/core/**/*.ts"], rules: { "no-restricted-syntax": ["error", bareCloseTo] } },
];
