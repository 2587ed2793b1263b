/**
 * A zip file piece by piece: the few bytes around each member, for whoever has the members themselves. Members are stored as
 * they are, below 4 GiB and fewer than 65,535 of them, with ASCII names; so any computer opens it, and nothing is held here.
 *
 * Source: PKWARE APPNOTE 6.3.10, sections 4.3.7 (local header), 4.3.12 (central directory), 4.3.16 (its end).
 */

const POLYNOMIAL = 0xedb88320; // APPNOTE 4.4.7: CRC-32, bits reversed
const VERSION = 20; // APPNOTE 4.4.3.2: 2.0
const NO_DAY = (1 << 5) | 1; // 1 January 1980, the first day a zip can tell; the manifest says when it was made
const HEAD = 30;
const ENTRY = 46;
const END = 22;

const TABLE = Uint32Array.from({ length: 256 }, (_, i) => {
  let value = i;
  for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ POLYNOMIAL : value >>> 1;
  return value;
});

/**
 * The CRC-32 of bytes.
 * @param {Uint8Array} bytes
 * @returns {number} 0 to 2**32 - 1
 */
export function crc32(bytes) {
  let crc = 0xffffffff;
  for (let i = 0; i < bytes.length; i += 1) crc = TABLE[(crc ^ bytes[i]) & 0xff] ^ (crc >>> 8);
  return (crc ^ 0xffffffff) >>> 0;
}

const ascii = (text) => Uint8Array.from(text, (sign) => sign.charCodeAt(0));

/** The facts of a member that stand in its own head and once more in the list; they begin with the version needed. */
function putFacts(view, at, { crc, size, name }) {
  view.setUint16(at, VERSION, true);
  view.setUint16(at + 8, NO_DAY, true); // time, then day; flags and way of packing are 0: plain
  view.setUint32(at + 10, crc, true);
  view.setUint32(at + 14, size, true);
  view.setUint32(at + 18, size, true);
  view.setUint16(at + 22, name.length, true);
}

/**
 * What stands before the bytes of a member.
 * @param {{name: string, crc: number, size: number}} member size in bytes
 * @returns {Uint8Array}
 */
export function memberHead(member) {
  const bytes = new Uint8Array(HEAD + member.name.length);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, 0x04034b50, true);
  putFacts(view, 4, member);
  bytes.set(ascii(member.name), HEAD);
  return bytes;
}

function listEntry(member) {
  const bytes = new Uint8Array(ENTRY + member.name.length);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, 0x02014b50, true);
  view.setUint16(4, VERSION, true);
  putFacts(view, 6, member);
  view.setUint32(42, member.at, true);
  bytes.set(ascii(member.name), ENTRY);
  return bytes;
}

/**
 * What stands after the last member.
 * @param {{name: string, crc: number, size: number, at: number}[]} members at: where its head begins, bytes
 * @param {number} at where this begins, bytes
 * @param {string} comment ASCII
 * @returns {Uint8Array[]}
 */
export function listOfMembers(members, at, comment) {
  const entries = members.map(listEntry);
  const bytes = new Uint8Array(END + comment.length);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, 0x06054b50, true);
  view.setUint16(8, members.length, true);
  view.setUint16(10, members.length, true);
  view.setUint32(12, entries.reduce((sum, entry) => sum + entry.length, 0), true);
  view.setUint32(16, at, true);
  view.setUint16(20, comment.length, true);
  bytes.set(ascii(comment), END);
  return [...entries, bytes];
}
