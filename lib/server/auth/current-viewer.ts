import "server-only";
import { headers } from "next/headers";
import { cache } from "react";
import { viewerFromHeaders } from "./session";
import type { PersonViewer } from "./viewer";

/** Who looks at this page or calls this action; read once a request. Null: nobody is signed in. */
export const getViewer = cache(async (): Promise<PersonViewer | null> => viewerFromHeaders(await headers()));
