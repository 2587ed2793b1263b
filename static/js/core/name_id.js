/** An id made of a name: the same on every phone and at home, so that they meet in one record. */

import { sha1 } from './sha1.js';

const ADDRESSES = '6ba7b8119dad11d180b400c04fd430c8'; // name space of addresses: RFC 9562, section 6.6

/** @param {string} name @returns {string} a name-based UUID, version 5: RFC 9562, section 5.5 */
export function nameId(name) {
  const space = ADDRESSES.match(/../g).map((pair) => parseInt(pair, 16));
  const bytes = sha1([...space, ...new TextEncoder().encode(name)]).slice(0, 16);
  bytes[6] = (bytes[6] & 0x0f) | 0x50;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = bytes.map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}
