/** A growing buffer of bytes and a reader over one: the plain parts of which columns are written. */

/** Bytes that are not what this format writes: damage, or a later version. */
export class DamagedBytes extends Error {
  readonly code = 'DAMAGED_BYTES';
}

export class ByteWriter {
  #bytes = new Uint8Array(4096);
  #length = 0;

  /** Room for `count` more bytes, already counted as written: fill it. */
  reserve(count: number): Uint8Array {
    if (this.#length + count > this.#bytes.length) {
      const grown = new Uint8Array(Math.max(this.#length + count, 2 * this.#bytes.length));
      grown.set(this.#bytes.subarray(0, this.#length));
      this.#bytes = grown;
    }
    const room = this.#bytes.subarray(this.#length, this.#length + count);
    this.#length += count;
    return room;
  }

  byte(value: number): void {
    this.reserve(1)[0] = value;
  }

  /** A whole number from 0 to 2^53, seven bits a byte, lowest first. */
  count(value: number): void {
    let rest = value;
    while (rest > 127) {
      this.byte((rest % 128) | 128);
      rest = Math.floor(rest / 128);
    }
    this.byte(rest);
  }

  /** A whole number of either sign. */
  signed(value: number): void {
    this.byte(value < 0 ? 1 : 0);
    this.count(Math.abs(value));
  }

  double(value: number): void {
    const room = this.reserve(8);
    new DataView(room.buffer, room.byteOffset, 8).setFloat64(0, value, true);
  }

  finish(): Uint8Array {
    return this.#bytes.slice(0, this.#length);
  }
}

export class ByteReader {
  readonly #bytes: Uint8Array;
  #at = 0;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
  }

  take(count: number): Uint8Array {
    if (this.#at + count > this.#bytes.length) throw new DamagedBytes('a column ends too early');
    const taken = this.#bytes.subarray(this.#at, this.#at + count);
    this.#at += count;
    return taken;
  }

  byte(): number {
    return this.take(1)[0]!;
  }

  count(): number {
    let value = 0;
    for (let scale = 1; scale < 2 ** 56; scale *= 128) {
      const byte = this.byte();
      value += (byte & 127) * scale;
      if (byte < 128) return value;
    }
    throw new DamagedBytes('a count is too long');
  }

  signed(): number {
    return this.byte() === 1 ? -this.count() : this.count();
  }

  double(): number {
    const bytes = this.take(8);
    return new DataView(bytes.buffer, bytes.byteOffset, 8).getFloat64(0, true);
  }

  expectEnd(): void {
    if (this.#at !== this.#bytes.length) throw new DamagedBytes(`${this.#bytes.length - this.#at} bytes follow the last column`);
  }
}
