export function findBrowser(): string | null;
export function ensureBrowser(options?: { say?: (text: string) => void }): Promise<string>;
