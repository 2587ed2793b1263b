/**
 * What home told of itself when it was last reached, and what follows from it: under which one address a phone is to keep
 * its log, and until when home can answer there at all.
 */

const DAY = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long', year: 'numeric', timeZone: 'UTC' });
const OF_THIS_MACHINE = new Set(['localhost', '127.0.0.1', '[::1]']);

/**
 * Read what home says of itself in its hello.
 * @param {any} said `home` of /api/hello; null where home does not know its address, as behind a proxy
 * @returns {{address: string, certificate_until: string}|null} null for anything else than what is meant
 */
export function readHomeTold(said) {
  const { address, certificate_until: until } = said ?? {};
  if (typeof address !== 'string' || typeof until !== 'string' || Number.isNaN(Date.parse(until))) return null;
  try {
    const { origin, protocol } = new URL(address);
    return protocol === 'https:' && origin === address ? { address, certificate_until: until } : null;
  } catch {
    return null;
  }
}

/**
 * The address that home wants to be opened at, where that is another than the one in use.
 * @param {{address: string}|null} told of `readHomeTold`
 * @param {string} origin where the app was opened
 * @returns {{address: string, can_go: boolean}|null} can_go: whether to go there unasked, as long as nothing is kept here;
 *   on the machine of the server itself the name may not be known
 */
export function otherAddress(told, origin) {
  if (told === null || told.address === origin) return null;
  return { address: told.address, can_go: !OF_THIS_MACHINE.has(new URL(origin).hostname) };
}

/**
 * Why home cannot be reached, if the certificate this phone knows of has ended.
 * @param {{certificate_until: string}|null} told
 * @param {number} nowMs
 * @returns {string|null} one sentence with its cure
 */
export function endedWords(told, nowMs) {
  if (told === null || Date.parse(told.certificate_until) > nowMs) return null;
  const day = DAY.format(new Date(told.certificate_until));
  return `Home’s certificate ended on ${day}, so this phone may not talk to it: start Fellside at home anew, and it makes a new one. Everything is kept on this phone.`;
}
