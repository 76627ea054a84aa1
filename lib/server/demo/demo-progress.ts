import "server-only";

export type DemoProgress = (step: string, done: number, of: number) => void;
