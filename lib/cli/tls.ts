import { createPrivateKey, randomBytes, X509Certificate } from "node:crypto";
import { chmodSync, existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import net from "node:net";
import os from "node:os";
import path from "node:path";
import { createSecureContext } from "node:tls";
import { AppError } from "@/lib/errors";

/** What the HTTPS server answers with. `authorityPem` is null where the certificate was brought by the plant. */
export type TlsMaterial = {
  readonly key: string;
  readonly certificate: string;
  readonly authorityPem: string | null;
  readonly authorityFile: string | null;
  readonly fingerprint: string | null;
};

const RENEW_BEFORE_MS = 30 * 86_400_000;

const problem = (sentence: string, cause?: unknown): AppError => new AppError("invalid-input", sentence, { cause });

/** Written whole or not at all, readable by the owner only if `secret`. */
function writeSafely(file: string, text: string, secret: boolean): void {
  const unfinished = `${file}.unfinished`;
  writeFileSync(unfinished, text, { mode: secret ? 0o600 : 0o644 });
  chmodSync(unfinished, secret ? 0o600 : 0o644);
  renameSync(unfinished, file);
}

const endOf = (certificate: X509Certificate): number => Date.parse(certificate.validTo);

function readCertificate(file: string): X509Certificate | null {
  if (!existsSync(file)) return null;
  try {
    return new X509Certificate(readFileSync(file));
  } catch {
    // Cut off or not a certificate: made anew.
    return null;
  }
}

function namesOf(certificate: X509Certificate): readonly string[] {
  const listed = (certificate.subjectAltName ?? "").split(", ").map((item) => item.replace(/^(DNS|IP Address):/, ""));
  return listed.filter((name) => name !== "");
}

const covers = (certificate: X509Certificate, name: string): boolean =>
  (net.isIP(name) === 0 ? certificate.checkHost(name) : certificate.checkIP(name)) !== undefined;

/** Addresses of this machine on its networks, without those of links. */
export function machineAddresses(): readonly string[] {
  return Object.values(os.networkInterfaces())
    .flatMap((entries) => entries ?? [])
    .filter((entry) => !entry.internal && !entry.address.startsWith("fe80:"))
    .map((entry) => entry.address);
}

/** @throws AppError invalid-input when it is neither a host name nor an address */
export function checkLanName(name: string): string {
  const label = "[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?";
  const isHostName = name.length <= 253 && new RegExp(`^${label}(\\.${label})*$`, "i").test(name);
  if (net.isIP(name) !== 0 || isHostName) return name.toLowerCase();
  throw problem(
    `"${name}" is not a name that tablets can open. Give the name or the address of this machine, e.g. npm start -- --lan shellgate.plant.example`,
  );
}

/**
 * The plant's own certificate: an authority kept in the data folder (tablets trust it once) and a server certificate for
 * `names`, made at first use, again when a name is new, and 30 days before its end.
 */
export async function ensurePlantCertificate(
  dataFolder: string,
  names: readonly string[],
  now = new Date(),
): Promise<TlsMaterial> {
  const folder = path.join(dataFolder, "tls");
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  const files = {
    authorityKey: path.join(folder, "plant-ca.key"),
    authority: path.join(folder, "plant-ca.crt"),
    key: path.join(folder, "server.key"),
    certificate: path.join(folder, "server.crt"),
  };
  const isFresh = (certificate: X509Certificate): boolean => endOf(certificate) - now.getTime() > RENEW_BEFORE_MS;

  let authority = readCertificate(files.authority);
  if (authority === null || !existsSync(files.authorityKey) || !isFresh(authority)) {
    const { makeAuthority } = await import("./certificate");
    const made = await makeAuthority(`Shellgate plant authority ${randomBytes(3).toString("hex")}`, now);
    writeSafely(files.authorityKey, made.keyPem, true);
    writeSafely(files.authority, made.certificatePem, false);
    authority = new X509Certificate(made.certificatePem);
  }
  const current = readCertificate(files.certificate);
  const isGood =
    current !== null &&
    existsSync(files.key) &&
    current.verify(authority.publicKey) &&
    current.checkPrivateKey(createPrivateKey(readFileSync(files.key))) &&
    isFresh(current) &&
    names.every((name) => covers(current, name));
  if (!isGood) {
    const { makeServerCertificate } = await import("./certificate");
    const signer = { keyPem: readFileSync(files.authorityKey, "utf8"), certificatePem: authority.toString() };
    const made = await makeServerCertificate(signer, names, now);
    writeSafely(files.key, made.keyPem, true);
    writeSafely(files.certificate, made.certificatePem, false);
  }
  return {
    key: readFileSync(files.key, "utf8"),
    certificate: readFileSync(files.certificate, "utf8"),
    authorityPem: authority.toString(),
    authorityFile: files.authority,
    fingerprint: authority.fingerprint256,
  };
}

/**
 * The certificate that the plant brings itself in TLS_CERT and TLS_KEY.
 *
 * @throws AppError invalid-input saying which file is wrong
 */
export function readOwnCertificate(
  certificateFile: string,
  keyFile: string,
  now = new Date(),
): { readonly material: TlsMaterial; readonly names: readonly string[] } {
  const read = (file: string, variable: string): string => {
    try {
      return readFileSync(file, "utf8");
    } catch (error) {
      throw problem(`The file ${file} that ${variable} names cannot be read.`, error);
    }
  };
  const [certificate, key] = [read(certificateFile, "TLS_CERT"), read(keyFile, "TLS_KEY")];
  let parsed: X509Certificate;
  try {
    parsed = new X509Certificate(certificate);
    createSecureContext({ cert: certificate, key });
  } catch (error) {
    throw problem(
      `TLS_CERT (${certificateFile}) and TLS_KEY (${keyFile}) are not a certificate and its key in PEM form.`,
      error,
    );
  }
  if (endOf(parsed) < now.getTime()) {
    throw problem(`The certificate in ${certificateFile} ended on ${parsed.validTo}. Get a new one and start again.`);
  }
  const material = { key, certificate, authorityPem: null, authorityFile: null, fingerprint: null };
  return { material, names: namesOf(parsed) };
}
