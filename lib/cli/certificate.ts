import {
  createPublicKey,
  createHash,
  generateKeyPairSync,
  randomBytes,
  sign,
  X509Certificate,
  type KeyObject,
} from "node:crypto";
import net from "node:net";

// Certificates after RFC 5280, written in DER (ITU-T X.690) with an elliptic key (P-256) and ECDSA with SHA-256 (RFC 5758).

const DAY_MS = 86_400_000;
const CA_DAYS = 3650;
/** Browsers refuse server certificates that are valid for 398 days or more. */
const SERVER_DAYS = 397;

const OID = {
  commonName: "2.5.4.3",
  ecdsaWithSha256: "1.2.840.10045.4.3.2",
  subjectKeyIdentifier: "2.5.29.14",
  keyUsage: "2.5.29.15",
  subjectAltName: "2.5.29.17",
  basicConstraints: "2.5.29.19",
  authorityKeyIdentifier: "2.5.29.35",
  extendedKeyUsage: "2.5.29.37",
  serverAuth: "1.3.6.1.5.5.7.3.1",
} as const;

export type KeyAndCertificate = { readonly keyPem: string; readonly certificatePem: string };

function lengthOctets(length: number): Buffer {
  if (length < 0x80) return Buffer.from([length]);
  const bytes: number[] = [];
  for (let rest = length; rest > 0; rest = Math.floor(rest / 256)) bytes.unshift(rest % 256);
  return Buffer.from([0x80 + bytes.length, ...bytes]);
}

function element(tag: number, ...contents: readonly Buffer[]): Buffer {
  const content = Buffer.concat(contents);
  return Buffer.concat([Buffer.from([tag]), lengthOctets(content.length), content]);
}

const sequence = (...items: readonly Buffer[]): Buffer => element(0x30, ...items);
const octets = (content: Buffer): Buffer => element(0x04, content);
const bits = (content: Buffer, unused = 0): Buffer => element(0x03, Buffer.from([unused]), content);
const truth = element(0x01, Buffer.from([0xff]));

/** A positive integer given by its octets. */
function integer(content: Buffer): Buffer {
  const first = content[0] ?? 0;
  return element(0x02, first >= 0x80 ? Buffer.concat([Buffer.from([0]), content]) : content);
}

function objectIdentifier(dotted: string): Buffer {
  const [first = 0, second = 0, ...rest] = dotted.split(".").map(Number);
  const base128 = (value: number): number[] => {
    const groups = [value % 128];
    for (let left = Math.floor(value / 128); left > 0; left = Math.floor(left / 128))
      groups.unshift((left % 128) + 128);
    return groups;
  };
  return element(0x06, Buffer.from([first * 40 + second, ...rest.flatMap(base128)]));
}

/** UTCTime until 2049, GeneralizedTime after (RFC 5280, 4.1.2.5). */
function time(date: Date): Buffer {
  const digits = date
    .toISOString()
    .replace(/\.\d+Z$/, "Z")
    .replace(/[-:T]/g, "");
  return date.getUTCFullYear() < 2050
    ? element(0x17, Buffer.from(digits.slice(2)))
    : element(0x18, Buffer.from(digits));
}

const distinguishedName = (commonName: string): Buffer =>
  sequence(element(0x31, sequence(objectIdentifier(OID.commonName), element(0x0c, Buffer.from(commonName, "utf8")))));

function extension(oid: string, value: Buffer, critical = false): Buffer {
  return sequence(objectIdentifier(oid), ...(critical ? [truth] : []), octets(value));
}

function addressOctets(address: string): Buffer {
  if (net.isIPv4(address)) return Buffer.from(address.split(".").map(Number));
  const [head = "", tail] = address.split("::");
  const groups = (text: string): string[] => (text === "" ? [] : text.split(":"));
  const [before, after] = [groups(head), groups(tail ?? "")];
  const zeros = Array<string>(tail === undefined ? 0 : 8 - before.length - after.length).fill("0");
  return Buffer.from([...before, ...zeros, ...after].map((group) => group.padStart(4, "0")).join(""), "hex");
}

/** GeneralName: [2] for a host name, [7] for an address. */
const generalName = (name: string): Buffer =>
  net.isIP(name) === 0 ? element(0x82, Buffer.from(name, "ascii")) : element(0x87, addressOctets(name));

/** Method 1 of RFC 5280, 4.2.1.2: SHA-1 of the bits of the public key, which end the encoded key. */
function keyIdentifier(publicKey: KeyObject): Buffer {
  const spki = publicKey.export({ type: "spki", format: "der" });
  return createHash("sha1").update(spki.subarray(-65)).digest();
}

type Contents = {
  readonly subject: string;
  readonly issuer: string;
  readonly publicKey: KeyObject;
  readonly from: Date;
  readonly until: Date;
  readonly extensions: readonly Buffer[];
};

function signCertificate(contents: Contents, signingKey: KeyObject): string {
  const algorithm = sequence(objectIdentifier(OID.ecdsaWithSha256));
  const serial = randomBytes(16);
  serial[0] = ((serial[0] ?? 0) & 0x3f) | 0x40;
  const toBeSigned = sequence(
    element(0xa0, integer(Buffer.from([2]))),
    integer(serial),
    algorithm,
    distinguishedName(contents.issuer),
    sequence(time(contents.from), time(contents.until)),
    distinguishedName(contents.subject),
    contents.publicKey.export({ type: "spki", format: "der" }),
    element(0xa3, sequence(...contents.extensions)),
  );
  const der = sequence(toBeSigned, algorithm, bits(sign("sha256", toBeSigned, signingKey)));
  const lines = der.toString("base64").match(/.{1,64}/g) ?? [];
  return `-----BEGIN CERTIFICATE-----\n${lines.join("\n")}\n-----END CERTIFICATE-----\n`;
}

const newKeys = (): { readonly publicKey: KeyObject; readonly privateKey: KeyObject } =>
  generateKeyPairSync("ec", { namedCurve: "prime256v1" });

const pemOf = (key: KeyObject): string => key.export({ type: "pkcs8", format: "pem" }).toString();

const commonNameOf = (certificate: X509Certificate): string => /^CN=(.*)$/m.exec(certificate.subject)?.[1] ?? "";

/** A certificate authority of the plant's own, valid for ten years, that can sign server certificates only directly. */
export function makeAuthority(commonName: string, now: Date): KeyAndCertificate {
  const { publicKey, privateKey } = newKeys();
  const extensions = [
    extension(OID.basicConstraints, sequence(truth, integer(Buffer.from([0]))), true),
    extension(OID.keyUsage, bits(Buffer.from([0x06]), 1), true),
    extension(OID.subjectKeyIdentifier, octets(keyIdentifier(publicKey))),
  ];
  const from = new Date(now.getTime() - DAY_MS);
  const until = new Date(now.getTime() + CA_DAYS * DAY_MS);
  const contents = { subject: commonName, issuer: commonName, publicKey, from, until, extensions };
  return { keyPem: pemOf(privateKey), certificatePem: signCertificate(contents, privateKey) };
}

/**
 * A server certificate signed by the plant's authority.
 *
 * @param names - host names and addresses, the main one first
 */
export function makeServerCertificate(
  authority: { readonly key: KeyObject; readonly certificate: X509Certificate },
  names: readonly string[],
  now: Date,
): KeyAndCertificate {
  const { publicKey, privateKey } = newKeys();
  const authorityId = keyIdentifier(createPublicKey(authority.key));
  const extensions = [
    extension(OID.basicConstraints, sequence(), true),
    extension(OID.keyUsage, bits(Buffer.from([0x80]), 7), true),
    extension(OID.extendedKeyUsage, sequence(objectIdentifier(OID.serverAuth))),
    extension(OID.subjectAltName, sequence(...names.map(generalName))),
    extension(OID.subjectKeyIdentifier, octets(keyIdentifier(publicKey))),
    extension(OID.authorityKeyIdentifier, sequence(element(0x80, authorityId))),
  ];
  const from = new Date(now.getTime() - DAY_MS);
  const end = Math.min(from.getTime() + SERVER_DAYS * DAY_MS, Date.parse(authority.certificate.validTo));
  const issuer = commonNameOf(authority.certificate);
  const contents = {
    subject: (names[0] ?? "").slice(0, 64),
    issuer,
    publicKey,
    from,
    until: new Date(end),
    extensions,
  };
  return { keyPem: pemOf(privateKey), certificatePem: signCertificate(contents, authority.key) };
}
