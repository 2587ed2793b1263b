/**
 * SHA-1 of a few bytes: FIPS 180-4, section 6.1. For names only, never for what has to be safe.
 * The browser's own works on secure addresses alone, and a day's weather has to be saved on every one.
 */

const turn = (word, by) => (word << by) | (word >>> (32 - by));

/** The message with the bit, the zeros and the length that section 5.1.1 puts behind it, as words of 32 bits. */
function padded(bytes) {
  const words = new Array((((bytes.length + 8) >> 6) + 1) * 16).fill(0);
  [...bytes, 0x80].forEach((byte, at) => {
    words[at >> 2] |= byte << (24 - 8 * (at % 4));
  });
  words[words.length - 1] = bytes.length * 8;
  return words;
}

/** The function and constant of a round: sections 4.1.1 and 4.2.1. */
function round(at, b, c, d) {
  if (at < 20) return ((b & c) | (~b & d)) + 0x5a827999;
  if (at < 40) return (b ^ c ^ d) + 0x6ed9eba1;
  if (at < 60) return ((b & c) | (b & d) | (c & d)) + 0x8f1bbcdc;
  return (b ^ c ^ d) + 0xca62c1d6;
}

/**
 * @param {number[]} bytes fewer than 2 ** 28
 * @returns {number[]} 20 bytes
 */
export function sha1(bytes) {
  const sum = [0x67452301, 0xefcdab89, 0x98badcfe, 0x10325476, 0xc3d2e1f0];
  const words = padded(bytes);
  for (let start = 0; start < words.length; start += 16) {
    const w = words.slice(start, start + 16);
    for (let at = 16; at < 80; at += 1) w[at] = turn(w[at - 3] ^ w[at - 8] ^ w[at - 14] ^ w[at - 16], 1);
    let [a, b, c, d, e] = sum;
    for (let at = 0; at < 80; at += 1) [a, b, c, d, e] = [(turn(a, 5) + round(at, b, c, d) + e + w[at]) | 0, a, turn(b, 30), c, d];
    [a, b, c, d, e].forEach((word, at) => {
      sum[at] = (sum[at] + word) | 0;
    });
  }
  return sum.flatMap((word) => [24, 16, 8, 0].map((by) => (word >>> by) & 0xff));
}
