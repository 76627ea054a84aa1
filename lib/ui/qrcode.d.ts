/** The part of `qrcode` that makes the modules of a code; the package brings no types. */
declare module "qrcode/lib/core/qrcode" {
  type Modules = { readonly size: number; get(row: number, column: number): number };
  export function create(
    data: string,
    options: { readonly errorCorrectionLevel: "L" | "M" | "Q" | "H" },
  ): { readonly modules: Modules };
}
