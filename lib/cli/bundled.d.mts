export declare function bundledCommand(file: string, root?: string): Promise<string | null>;
