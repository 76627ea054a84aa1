export type DateStyle = "iso" | "locale";

/** How dates are written here: the plant's zone, ISO 8601 or the reader's locale. */
export type DateSetting = { readonly zone: string; readonly style?: DateStyle; readonly locale?: string };

type Parts = Readonly<Record<string, string>>;

/** One for each zone: making one takes long. */
const FORMATS = new Map<string, Intl.DateTimeFormat>();

function formatOf(zone: string): Intl.DateTimeFormat {
  const known = FORMATS.get(zone);
  if (known !== undefined) return known;
  const format = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
    hourCycle: "h23",
    timeZoneName: "short",
  });
  FORMATS.set(zone, format);
  return format;
}

function partsOf(time: Date, zone: string): Parts {
  const format = formatOf(zone);
  return Object.fromEntries(format.formatToParts(time).map((part) => [part.type, part.value]));
}

function toDate(time: string | number | Date): Date | null {
  const date = new Date(time);
  return Number.isNaN(date.getTime()) ? null : date;
}

/** A day: "2026-06-12", or as the locale writes it ("12 June 2026"). */
export function formatDay(
  time: string | number | Date,
  { zone, style = "iso", locale = "en-GB" }: DateSetting,
): string {
  const date = toDate(time);
  if (!date) return "no date";
  if (style === "locale") return new Intl.DateTimeFormat(locale, { timeZone: zone, dateStyle: "long" }).format(date);
  const { year, month, day } = partsOf(date, zone);
  return `${year}-${month}-${day}`;
}

/** A day without its year, for the axis of a chart: "3 June". */
export function formatShortDay(time: string | number | Date, zone: string): string {
  const date = toDate(time);
  if (!date) return "no date";
  return new Intl.DateTimeFormat("en-GB", { timeZone: zone, day: "numeric", month: "long" }).format(date);
}

/** A moment to the minute with its zone: "2026-06-12 14:41 CEST". */
export function formatMoment(time: string | number | Date, setting: DateSetting): string {
  const date = toDate(time);
  if (!date) return "no date";
  const { year, month, day, hour, minute, timeZoneName } = partsOf(date, setting.zone);
  const dayText = setting.style === "locale" ? formatDay(date, setting) : `${year}-${month}-${day}`;
  return `${dayText} ${hour}:${minute}\u00a0${timeZoneName}`;
}

/**
 * A moment for files that programs and people read: ISO 8601 by the plant's clock with its distance from UTC,
 * "2026-06-12T14:41:32.000+02:00".
 */
export function formatInstant(time: string | number | Date, zone: string): string {
  const date = toDate(time);
  if (!date) return "no date";
  const { year, month, day, hour, minute, second } = partsOf(date, zone);
  const shown = `${year}-${month}-${day}T${hour}:${minute}:${second}`;
  const second0 = Math.floor(date.getTime() / 1000);
  const ahead = Math.round((Date.parse(`${shown}Z`) / 1000 - second0) / 60);
  const of = (value: number, width: number): string => String(value).padStart(width, "0");
  const offset = `${ahead < 0 ? "-" : "+"}${of(Math.floor(Math.abs(ahead) / 60), 2)}:${of(Math.abs(ahead) % 60, 2)}`;
  return `${shown}.${of(date.getTime() - second0 * 1000, 3)}${offset}`;
}

/** A time of day: "14:41", with seconds "14:41:32". The screen says the zone elsewhere. */
export function formatTimeOfDay(time: string | number | Date, zone: string, seconds = false): string {
  const date = toDate(time);
  if (!date) return "no time";
  const parts = partsOf(date, zone);
  return `${parts.hour}:${parts.minute}${seconds ? `:${parts.second}` : ""}`;
}

/** A stretch of time in its largest fitting unit: "40 s", "4 min", "3 h", "5 days". */
export function formatDuration(seconds: number): string {
  const units: readonly (readonly [number, string, string])[] = [
    [86_400, "day", "days"],
    [3600, "h", "h"],
    [60, "min", "min"],
  ];
  for (const [size, one, many] of units) {
    if (seconds >= size) {
      const count = Math.floor(seconds / size);
      return `${count}\u00a0${count === 1 ? one : many}`;
    }
  }
  return `${Math.max(0, Math.round(seconds))}\u00a0s`;
}
