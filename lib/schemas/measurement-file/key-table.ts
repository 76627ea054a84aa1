/** Numbers keys in the order in which they are first seen, from 0. */
export type KeyTable = {
  /** The number of a key; a new key gets the next one. */
  readonly numberOf: (key: string) => number;
  readonly size: () => number;
};

/** Two independent 32-bit hashes of a text (multiply-xorshift over UTF-16 units). */
function hashText(text: string, seed: number): number {
  let hash = seed;
  for (let index = 0; index < text.length; index += 1) {
    hash = Math.imul(hash ^ text.charCodeAt(index), 0x5bd1e995);
    hash ^= hash >>> 15;
  }
  hash = Math.imul(hash ^ text.length, 0x85ebca6b);
  return (hash ^ (hash >>> 13)) >>> 0;
}

const float = new Float64Array(1);
const words = new Uint32Array(float.buffer);

/** Mixes a 32-bit word well (murmur finaliser). */
function mixed(word: number): number {
  let z = Math.imul(word ^ (word >>> 16), 0x85ebca6b);
  z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35);
  return (z ^ (z >>> 16)) >>> 0;
}

/** A collector of a whole number below 2^53 that stands for a set of named values, whatever their order. */
export type Fingerprint = {
  readonly add: (nameHash: number, value: number | string) => void;
  readonly value: () => number;
};

/** Hash of a name, once per column. */
export function nameHash(name: string): number {
  return hashText(name, 0x2545f491);
}

/** Starts a fingerprint: different sets of named values have different ones, but for about 1 in 1e15. */
export function createFingerprint(): Fingerprint {
  let [high, low] = [0, 0];
  return {
    add(name, value) {
      let hash: number;
      if (typeof value === "string") hash = hashText(value, name);
      else {
        // Adding 0 makes -0 and 0 the same number.
        float[0] = value + 0;
        hash = mixed(mixed((words[0] ?? 0) ^ name) ^ (words[1] ?? 0));
      }
      low = (low + hash) >>> 0;
      high = (high + mixed(hash ^ 0x9e3779b9 ^ name)) & 0x1fffff;
    },
    value: () => high * 0x1_0000_0000 + low,
  };
}

/**
 * Numbers many keys without keeping their text: 96 bits of hash stand for each, 16 bytes a key. Two of a million different
 * keys are taken for one with a probability below 1e-16.
 */
export function createKeyTable(): KeyTable {
  let capacity = 1024;
  let hashes = new Uint32Array(capacity * 3);
  let numbers = new Int32Array(capacity).fill(-1);
  let size = 0;

  function slotOf(a: number, b: number, c: number): number {
    let slot = (a ^ Math.imul(b, 0x9e3779b1)) & (capacity - 1);
    while (numbers[slot] !== -1) {
      if (hashes[slot * 3] === a && hashes[slot * 3 + 1] === b && hashes[slot * 3 + 2] === c) break;
      slot = (slot + 1) & (capacity - 1);
    }
    return slot;
  }

  function store(slot: number, a: number, b: number, c: number, value: number): void {
    hashes[slot * 3] = a;
    hashes[slot * 3 + 1] = b;
    hashes[slot * 3 + 2] = c;
    numbers[slot] = value;
  }

  function grow(): void {
    const [oldHashes, oldNumbers] = [hashes, numbers];
    capacity *= 2;
    hashes = new Uint32Array(capacity * 3);
    numbers = new Int32Array(capacity).fill(-1);
    for (const [slot, value] of oldNumbers.entries()) {
      if (value === -1) continue;
      const [a = 0, b = 0, c = 0] = oldHashes.subarray(slot * 3, slot * 3 + 3);
      store(slotOf(a, b, c), a, b, c, value);
    }
  }

  function numberOf(key: string): number {
    const [a, b, c] = [hashText(key, 0x2545f491), hashText(key, 0x7f4a7c15), hashText(key, 0x1b873593)];
    const slot = slotOf(a, b, c);
    const known = numbers[slot];
    if (known !== undefined && known !== -1) return known;
    store(slot, a, b, c, size);
    size += 1;
    if (size * 2 > capacity) grow();
    return size - 1;
  }

  return { numberOf, size: () => size };
}
