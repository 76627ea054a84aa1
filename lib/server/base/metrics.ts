import "server-only";

// Numbers for whoever watches from outside, in the text form of the OpenMetrics specification 1.0 and in the older one, version 0.0.4
// of the Prometheus text exposition format, which most programs ask for.

export type Labels = Readonly<Record<string, string>>;
type Sample = { readonly suffix: string; readonly labels: Labels; readonly value: number };
export type Family = {
  /** Without the suffix of a counter. */
  readonly name: string;
  readonly type: "counter" | "gauge" | "histogram";
  readonly help: string;
  readonly samples: readonly Sample[];
};

/** Upper bounds in s (common practice, no source). */
const BOUNDS = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10];

type Counted = { readonly labels: Labels; value: number };
type Observed = { readonly labels: Labels; readonly buckets: number[]; sum: number; count: number };
type Kept = {
  readonly counters: Map<string, { readonly help: string; readonly of: Map<string, Counted> }>;
  readonly histograms: Map<string, { readonly help: string; readonly of: Map<string, Observed> }>;
};

/** One of a process, whichever bundle of the application counts. */
const holder: typeof globalThis & { shellgateMetrics?: Kept } = globalThis;
const kept = (): Kept => (holder.shellgateMetrics ??= { counters: new Map(), histograms: new Map() });

function entryOf<K, V>(map: Map<K, V>, key: K, make: () => V): V {
  const known = map.get(key);
  if (known !== undefined) return known;
  const made = make();
  map.set(key, made);
  return made;
}

/** Counts something that happened. Values of labels are few: each makes a series of its own. */
export function count(name: string, help: string, labels: Labels = {}, by = 1): void {
  const { of } = entryOf(kept().counters, name, () => ({ help, of: new Map<string, Counted>() }));
  entryOf(of, JSON.stringify(labels), () => ({ labels, value: 0 })).value += by;
}

/** Counts how long something took, in s. */
export function observe(name: string, help: string, seconds: number, labels: Labels = {}): void {
  const { of } = entryOf(kept().histograms, name, () => ({ help, of: new Map<string, Observed>() }));
  const observed = entryOf(of, JSON.stringify(labels), () => ({
    labels,
    buckets: BOUNDS.map(() => 0),
    sum: 0,
    count: 0,
  }));
  const at = BOUNDS.findIndex((bound) => seconds <= bound);
  if (at >= 0) observed.buckets[at] = (observed.buckets[at] ?? 0) + 1;
  observed.sum += seconds;
  observed.count += 1;
}

/** What stands at something now. */
export function gauge(name: string, help: string, values: readonly (readonly [Labels, number])[]): Family {
  return { name, type: "gauge", help, samples: values.map(([labels, value]) => ({ suffix: "", labels, value })) };
}

function histogramSamples({ labels, buckets, sum, count: all }: Observed): readonly Sample[] {
  let below = 0;
  const upTo = buckets.map((inside, at): Sample => {
    below += inside;
    return { suffix: "_bucket", labels: { ...labels, le: String(BOUNDS[at]) }, value: below };
  });
  return [
    ...upTo,
    { suffix: "_bucket", labels: { ...labels, le: "+Inf" }, value: all },
    { suffix: "_sum", labels, value: sum },
    { suffix: "_count", labels, value: all },
  ];
}

/** All that this process counted since it began. */
export function readCounted(): readonly Family[] {
  const { counters, histograms } = kept();
  return [
    ...[...counters].map(([name, { help, of }]): Family => ({
      name,
      type: "counter",
      help,
      samples: [...of.values()].map(({ labels, value }) => ({ suffix: "_total", labels, value })),
    })),
    ...[...histograms].map(([name, { help, of }]): Family => ({
      name,
      type: "histogram",
      help,
      samples: [...of.values()].flatMap(histogramSamples),
    })),
  ];
}

const escaped = (text: string): string => text.replaceAll("\\", "\\\\").replaceAll("\n", "\\n");
const quoted = (text: string): string => `"${escaped(text).replaceAll('"', '\\"')}"`;

function sampleText(name: string, { suffix, labels, value }: Sample): string {
  const pairs = Object.entries(labels).map(([label, of]) => `${label}=${quoted(of)}`);
  return `${name}${suffix}${pairs.length === 0 ? "" : `{${pairs.join(",")}}`} ${value}`;
}

/** @param isOpen - OpenMetrics 1.0, else version 0.0.4 of the older form, in which a counter is named with its suffix */
export function metricsText(families: readonly Family[], isOpen: boolean): string {
  const lines = families.flatMap(({ name, type, help, samples }) => {
    const called = type === "counter" && !isOpen ? `${name}_total` : name;
    const head = [
      `# HELP ${called} ${isOpen ? escaped(help).replaceAll('"', '\\"') : escaped(help)}`,
      `# TYPE ${called} ${type}`,
    ];
    return [...head, ...samples.map((sample) => sampleText(name, sample))];
  });
  return `${[...lines, ...(isOpen ? ["# EOF"] : [])].join("\n")}\n`;
}
