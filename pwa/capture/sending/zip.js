// @ts-check
/** ZIP archives of files as they are, not compressed: pictures don't get smaller. */

/** @typedef {{ name: string, bytes: Uint8Array }} Packed */

const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c >>> 0;
});

/** @param {Uint8Array} bytes @returns {number} CRC-32 as ZIP wants it (APPNOTE 4.4.7) */
export function crc32(bytes) {
  let c = 0xffffffff;
  for (const byte of bytes) c = (TABLE[(c ^ byte) & 0xff] ?? 0) ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}

/**
 * One file at a time goes in, so that hundreds of pictures are never in memory together.
 * Layout: APPNOTE.TXT 6.3, sections 4.3.7, 4.3.12 and 4.3.16; names are UTF-8 (flag bit 11).
 */
export function startZip() {
  /** @type {Blob[]} */
  const parts = [];
  /** @type {Uint8Array<ArrayBuffer>[]} */
  const directory = [];
  let offset = 0;

  return {
    /** @param {string} name @param {Uint8Array<ArrayBuffer>} bytes */
    add(name, bytes) {
      const title = new TextEncoder().encode(name);
      const common = fields([
        [20, 2], [0x0800, 2], [0, 2], [0, 2], [0x21, 2], // version, UTF-8, stored, 1 January 1980
        [crc32(bytes), 4], [bytes.length, 4], [bytes.length, 4], [title.length, 2], [0, 2],
      ]);
      parts.push(new Blob([fields([[0x04034b50, 4]]), common, title, bytes]));
      directory.push(
        fields([[0x02014b50, 4], [20, 2]]), common,
        fields([[0, 2], [0, 2], [0, 2], [0, 4], [offset, 4]]), title);
      offset += 30 + title.length + bytes.length;
    },
    /** @returns {Blob} the finished archive */
    finish() {
      const size = directory.reduce((sum, part) => sum + part.length, 0);
      const count = parts.length;
      const end = fields([
        [0x06054b50, 4], [0, 2], [0, 2], [count, 2], [count, 2], [size, 4], [offset, 4], [0, 2],
      ]);
      return new Blob([...parts, ...directory, end], { type: "application/zip" });
    },
  };
}

/** @param {[number, number][]} values each with its width in bytes; little-endian */
function fields(values) {
  const bytes = values.flatMap(([value, width]) =>
    Array.from({ length: width }, (_, i) => (value >>> (8 * i)) & 0xff));
  return Uint8Array.from(bytes);
}
