/** What House says of phones, in words: which is a copy of which, what shutting one out does, who used a code. Pure. */

import { here, showAgo, showInstant } from './words.js';

export const ROLE_WORDS = { full: 'may do everything', record: 'may record' };

const plain = (name) => name.replaceAll('’', "'").replaceAll(/\s+/g, '').toLowerCase();
const quoted = (names) => names.map((name) => `“${name}”`).join(', ');

/** Of which phone of the list one is a copy; null for none. */
function sourceOf(one, devices) {
  return one.copy_of ? (devices.find((it) => it.device === one.copy_of) ?? null) : null;
}

/**
 * What is said under a phone's name.
 * @param {object} one of home's list @param {object[]} devices the whole list
 * @param {string|null} app the version that home has now
 */
export function underWords(one, devices, app) {
  const seen = `last here ${one.last_seen_at ? showAgo(one.last_seen_at) : 'never'}`;
  const source = sourceOf(one, devices);
  const copy = source === null ? [] : [`copy of “${source.name}”`];
  if (one.revoked) return ['shut out', ...copy, seen].join(' · ');
  const parts = [ROLE_WORDS[one.role] ?? ROLE_WORDS.full];
  if (one.signed_in) parts.push('owner signed in');
  parts.push(...copy, seen, `paired ${showInstant(one.paired_at)}`);
  if (one.app && app) parts.push(one.app === app ? 'has the newest app' : 'has an older app, and is offered the newer one when it is open near home');
  return parts.join(' · ');
}

/**
 * Phones that go by one name because one is a copy of the other, and that are both let in: a sentence for each such name.
 * @param {object[]} devices @returns {string[]}
 */
export function copyCautions(devices) {
  const said = new Map();
  for (const one of devices) {
    const source = sourceOf(one, devices);
    if (source === null || one.revoked || source.revoked || plain(source.name) !== plain(one.name)) continue;
    const named = said.get(plain(one.name)) ?? { name: source.name, all: new Set() };
    named.all.add(one.device).add(source.device);
    said.set(plain(one.name), named);
  }
  return [...said.values()].map(({ name, all }) => {
    const number = all.size === 2 ? 'Two phones go' : `${all.size} phones go`;
    return `${number} by the name “${name}”: one is a copy of the other, or was put back from a copy of itself. If you know of it, give each a name of its own under Change, and shut out what is no longer used. If you do not, somebody may have copied your phone: shut out all of them, and pair yours anew.`;
  });
}

/**
 * What shutting one out does, said before it is done.
 * @param {object} one @param {object[]} devices @param {boolean} isOwn it is the one in the hand
 */
export function shutOutWords(one, devices, isOwn) {
  const words = [isOwn
    ? `This is the one in your hand. It keeps what it has, but gets and gives nothing until it is paired again.`
    : 'It gets nothing more from home and gives nothing. What it sent already stays. To let it in again, pair it anew.'];
  const withIt = devices.filter((it) => it.copy_of === one.device && !it.own_token && !it.revoked);
  if (withIt.length > 0) words.push(`${quoted(withIt.map((it) => it.name))}, a copy of it, has no key of its own yet and is shut out with it.`);
  const source = sourceOf(one, devices);
  if (source !== null && !one.own_token && !source.revoked) words.push(`It has no key of its own yet and could still come under the name of “${source.name}”: if a stranger may hold it, shut that out too, and pair yours anew.`);
  return words.join(' ');
}

/**
 * Who was paired since a code was made, and so used it.
 * @param {{role: string, good_until: string}} code @param {object[]} before the list as it stood then @param {object[]} now
 * @returns {object|null}
 */
export function usedBy(code, before, now) {
  const stood = new Map(before.map((one) => [one.device, one.paired_at]));
  return now.find((one) => !one.revoked && !one.copy_of && one.role === code.role && stood.get(one.device) !== one.paired_at) ?? null;
}

/** What is said after a phone was given a name. @param {string} name @param {string|null} like another name to offer */
export function namedWords(name, like) {
  return like ? `It is called “${name}” now, and so is another. “${like}” would tell them apart.` : `It is called “${name}” now.`;
}

/** What is said on a phone that was just paired. @param {string} role @param {string|null} like another name that home offers */
export function pairedWords(role, like) {
  const paired = role === 'record'
    ? `Paired. This ${here()} may record: it sees sites, where their trees stand, and its own work, and no landholder’s contact data.`
    : `Paired. What home keeps is coming onto this ${here()}.`;
  return like ? `${paired} Another phone is called the same: at home, under House, this one can be called “${like}”.` : paired;
}
