export class StartProblem extends Error {}
export function checkNodeVersion(version?: string): void;
export function dependenciesAreCurrent(root?: string, options?: { development?: boolean }): boolean;
export function ensureDatabaseLinks(root?: string): number;
