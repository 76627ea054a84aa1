import "server-only";

export type Made = { readonly id: string };
