import "server-only";
import nodemailer from "nodemailer";
import type { MailText } from "@/lib/format/message-mail";
import { headerText } from "@/lib/format/message-mail";
import { unseal } from "../base/sealed";
import { mailPasswordPurpose, type MailServer } from "./read-settings";
import { MESSAGES_WORDS } from "./words";

const texts = MESSAGES_WORDS.mailTransport;

const CONNECT_MS = 10_000;
const SILENCE_MS = 20_000;
/** Whatever the server does, a mail takes no longer: one that answers a byte at a time is given up. */
export const MAIL_DEADLINE_MS = 60_000;
const MOST_ANSWER = 300;

export type OutgoingMail = MailText & {
  /** The same at each try, so that a mailbox knows a duplicate. */
  readonly messageId: string;
  readonly to: { readonly name: string; readonly address: string };
  readonly from: { readonly name: string; readonly address: string };
  readonly at: Date;
};

/** What came of a try, in words for people. `permanent`: the server will not take it later either. */
export type MailOutcome =
  | { readonly sent: true; readonly answer: string }
  | { readonly sent: false; readonly permanent: boolean; readonly answer: string };

type MailError = Error & {
  readonly code?: string;
  readonly command?: string;
  readonly responseCode?: number;
  readonly response?: string;
};

const CODE_WORDS: Readonly<Record<string, string>> = {
  EDNS: "The name of the mail server is not known",
  ECONNECTION: "The mail server cannot be reached, or broke the connection off",
  ESOCKET: "The connection to the mail server was broken off",
  ETIMEDOUT: "The mail server did not answer in time",
  ETLS: "The mail server and Shellgate could not agree on encryption",
  EAUTH: "The mail server refused the user or the password",
  ENOAUTH: "The mail server wants a user and a password",
  EENVELOPE: "The mail server refused the sender or the recipient",
  EMESSAGE: "The mail server refused the content",
  EPROTOCOL: "What answered does not speak as a mail server does",
};

function said(text: string): string {
  const line = headerText(text);
  return line.length <= MOST_ANSWER ? line : `${line.slice(0, MOST_ANSWER - 1)}…`;
}

/** What went wrong, in words, with what the server said beside it. */
function refusalOf(error: unknown): MailOutcome {
  const { code = "", response, responseCode, message } = error as MailError;
  const certificate = /certificate|self[- ]signed/i.test(message);
  const words = certificate ? texts.certificateOfMailServer : CODE_WORDS[code];
  const answer = `${words ?? texts.mailWasNotTaken}: ${said(response ?? message)}`;
  const refusedForGood = responseCode !== undefined && responseCode >= 550 && responseCode < 560;
  return { sent: false, permanent: code === "EENVELOPE" && refusedForGood, answer };
}

function passwordOf(plantId: string, { password }: MailServer): string | null {
  if (password === null) return "";
  return unseal(password, mailPasswordPurpose(plantId));
}

const composed = (mail: OutgoingMail) => ({
  messageId: mail.messageId,
  from: { name: headerText(mail.from.name), address: mail.from.address },
  to: { name: headerText(mail.to.name), address: mail.to.address },
  date: mail.at,
  subject: headerText(mail.subject),
  text: mail.text,
  html: mail.html,
  // A program's answer (out of office) to it would go to nobody.
  headers: { "Auto-Submitted": "auto-generated" },
  disableFileAccess: true,
  disableUrlAccess: true,
});

/** Hands one mail to the plant's mail server, once. It never throws for what the server does. */
export async function sendMail(plantId: string, server: MailServer, mail: OutgoingMail): Promise<MailOutcome> {
  const password = passwordOf(plantId, server);
  if (password === null)
    return {
      sent: false,
      permanent: false,
      answer:
        "The password of the mail server cannot be read, since the plant's key is another one now. Enter it again.",
    };
  const transport = nodemailer.createTransport({
    host: server.host,
    port: server.port,
    secure: server.security === "tls",
    requireTLS: server.security === "starttls",
    ignoreTLS: server.security === "none",
    ...(server.user === null ? {} : { auth: { user: server.user, pass: password } }),
    connectionTimeout: CONNECT_MS,
    greetingTimeout: CONNECT_MS,
    dnsTimeout: CONNECT_MS,
    socketTimeout: SILENCE_MS,
  });
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(
      () => reject(Object.assign(new Error("it took longer than a minute"), { code: "ETIMEDOUT" })),
      MAIL_DEADLINE_MS,
    );
  });
  try {
    const info = await Promise.race([transport.sendMail(composed(mail)), late]);
    return { sent: true, answer: `The mail server took it: ${said(info.response)}` };
  } catch (error) {
    return refusalOf(error);
  } finally {
    clearTimeout(timer);
    transport.close();
  }
}

/** The same mail as a file (RFC 5322) that any mail program opens. */
export async function mailFile(mail: OutgoingMail): Promise<Buffer> {
  const transport = nodemailer.createTransport({ streamTransport: true, buffer: true, newline: "windows" });
  const { message } = await transport.sendMail(composed(mail));
  return Buffer.isBuffer(message) ? message : Buffer.from(String(message));
}
