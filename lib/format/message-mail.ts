/** A message as a mail says it. */
export type MailedMessage = {
  readonly title: string;
  readonly happened: string;
  readonly todo: string;
  /** The whole address of the page that opens it. */
  readonly address: string;
  /** When it happened, by the plant's clock. */
  readonly when: string;
};

export type MailText = { readonly subject: string; readonly text: string; readonly html: string };

/** What a header can hold: one line, no control characters, of a length that programs show. */
const MOST_SUBJECT = 150;

export function headerText(text: string): string {
  const plain = text
    .replace(/[\p{Cc}\p{Zl}\p{Zp}]+/gu, " ")
    .replace(/ {2,}/g, " ")
    .trim();
  return plain.length <= MOST_SUBJECT ? plain : `${plain.slice(0, MOST_SUBJECT - 1)}…`;
}

const ESCAPES: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};
const escapeHtml = (text: string): string => text.replace(/[&<>"']/g, (sign) => ESCAPES[sign] ?? sign);

// The tokens of the application (app/styles/tokens.css), by day and by night: programs that read mail know no custom properties.
const DAY = {
  paper: "#f7f6f2",
  sheet: "#fcfbf8",
  hair: "#c9cdd0",
  ink: "#16212b",
  ink2: "#46535e",
  blue: "#1d4f91",
  on: "#ffffff",
};
const NIGHT = {
  paper: "#10171d",
  sheet: "#151e25",
  hair: "#3a4650",
  ink: "#eae7dd",
  ink2: "#b4bdc3",
  blue: "#86b4ec",
  on: "#0d1620",
};

const STYLE = `
:root { color-scheme: light dark; supported-color-schemes: light dark; }
@media (prefers-color-scheme: dark) {
  .paper { background: ${NIGHT.paper} !important; }
  .sheet { background: ${NIGHT.sheet} !important; border-color: ${NIGHT.hair} !important; }
  .ink { color: ${NIGHT.ink} !important; }
  .quiet { color: ${NIGHT.ink2} !important; }
  .key { background: ${NIGHT.blue} !important; color: ${NIGHT.on} !important; }
  .head { border-color: ${NIGHT.ink} !important; }
}`;

const FACE = "font-family: 'Sofia Sans', system-ui, 'Segoe UI', Arial, sans-serif";

function section({ title, happened, todo, address, when }: MailedMessage): string {
  return `<tr><td class="sheet" style="padding: 24px; background: ${DAY.sheet}; border: 1px solid ${DAY.hair}">
<h1 class="ink" style="margin: 0 0 4px; font-size: 21px; line-height: 1.25; color: ${DAY.ink}">${escapeHtml(title)}</h1>
<p class="quiet" style="margin: 0 0 16px; font-size: 13px; color: ${DAY.ink2}">${escapeHtml(when)}</p>
<p class="ink" style="margin: 0 0 16px; font-size: 15px; line-height: 1.45; color: ${DAY.ink}">${escapeHtml(happened)}</p>
<p class="quiet" style="margin: 0 0 4px; font-size: 13px; color: ${DAY.ink2}">What to do</p>
<p class="ink" style="margin: 0 0 20px; font-size: 15px; line-height: 1.45; color: ${DAY.ink}">${escapeHtml(todo)}</p>
<a class="key" href="${escapeHtml(address)}" style="display: inline-block; padding: 11px 18px; background: ${DAY.blue}; color: ${DAY.on}; font-size: 15px; text-decoration: none">Open it</a>
</td></tr><tr><td style="height: 12px; line-height: 12px; font-size: 1px">&nbsp;</td></tr>`;
}

function htmlOf(plant: string, messages: readonly MailedMessage[], foot: string): string {
  return `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta name="color-scheme" content="light dark"><meta name="supported-color-schemes" content="light dark"><style>${STYLE}</style></head>
<body class="paper" style="margin: 0; background: ${DAY.paper}; ${FACE}">
<table role="presentation" class="paper" width="100%" cellpadding="0" cellspacing="0" style="background: ${DAY.paper}"><tr><td align="center" style="padding: 24px 12px">
<table role="presentation" width="100%" cellpadding="0" cellspacing="0" style="max-width: 600px; ${FACE}">
<tr><td class="head ink" style="padding: 0 0 8px; border-bottom: 2px solid ${DAY.ink}; font-size: 15px; color: ${DAY.ink}"><strong>Shellgate</strong> <span class="quiet" style="color: ${DAY.ink2}">${escapeHtml(plant)}</span></td></tr>
<tr><td style="height: 16px; line-height: 16px; font-size: 1px">&nbsp;</td></tr>
${messages.map(section).join("\n")}
<tr><td class="quiet" style="font-size: 13px; line-height: 1.45; color: ${DAY.ink2}">${escapeHtml(foot)}</td></tr>
</table></td></tr></table></body></html>`;
}

const textOf = ({ title, happened, todo, address, when }: MailedMessage): string =>
  `${title}\n${when}\n\n${happened}\n\nWhat to do: ${todo}\n\nOpen it: ${address}\n`;

/**
 * The mail that tells of one message, or of several that waited for the same moment.
 *
 * @param plant - its name
 * @param messages - at least one
 * @param foot - why the reader gets it and where to change that
 */
export function mailText(plant: string, messages: readonly MailedMessage[], foot: string): MailText {
  const first = messages[0]?.title ?? "";
  const subject = messages.length <= 1 ? first : `${messages.length} messages: ${first} and others`;
  return {
    subject: headerText(subject),
    text: `${messages.map(textOf).join("\n----------------------------------------\n\n")}\n-- \n${plant}, Shellgate. ${foot}\n`,
    html: htmlOf(plant, messages, foot),
  };
}
