/** Values in words, as the trade says them. Nothing here decides anything; unknown is said as "not known". */

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

const STAGES = {
  marked: 'marked',
  lifted: 'lifted',
  settling: 'settling',
  gaining: 'gaining',
  working: 'working',
  lost: 'lost',
  parted: 'parted with',
  left_standing: 'left standing',
};

const STAGE_MEANINGS = {
  marked: 'Chosen and noted, still in the ground.',
  lifted: 'Out of the ground for less than two weeks.',
  settling: 'In its first year after the lift: shade, water, no feed, no disturbance.',
  gaining: 'Past its first year, gaining strength for its first hard work.',
  working: 'Grown strong enough to be worked on.',
  lost: 'It died.',
  parted: 'It went to someone else.',
  left_standing: 'It stays where it grew.',
};

/** What a tree or the weather did, as a person says it on looking; one set of words on every page. */
export const EVENTS = {
  bud_swell: 'buds swelling',
  bud_break: 'green showing',
  flush_hardened: 'first flush hardened',
  leaf_colour: 'leaf colour',
  leaf_fall: 'bare',
  frost: 'frost',
  wilt: 'wilt',
  pest_or_disease: 'pest or disease',
  other: 'other',
};

const WORKS = {
  lift: 'lift',
  prepare: 'cut roots ahead of the lift',
  repot: 'repot',
  hard_prune: 'hard prune',
  trim: 'trim',
  wire: 'wire',
  unwire: 'take wire off',
  look: 'look',
  defoliate: 'defoliate',
  feed: 'feed',
  shelter: 'shelter',
  unshelter: 'out of the shelter',
  sucker_removal: 'remove suckers',
  suckers: 'remove suckers',
  water: 'water',
  box: 'into a box',
};

const CONSENTS = {
  protected_area: 'protected area',
  tree_order: 'tree order',
  felling_licence: 'felling licence',
  monument: 'monument',
  services: 'buried services',
  plant_health: 'plant health',
  other: 'other consent',
};

const CONSENT_STATES = { held: 'held', needed: 'needed, not held', not_needed: 'not needed', unknown: 'not known' };

const METHODS = { hand_tools: 'hand tools', machine: 'machine', vehicle: 'vehicle on the ground' };

export const NOT_KNOWN = 'not known';

/** '2027-02-14' -> '14 Feb 2027'. */
export function showDate(on) {
  if (!on) return NOT_KNOWN;
  const [year, month, day] = on.split('-').map(Number);
  return `${day} ${MONTHS[month - 1]} ${year}`;
}

/** '2027-02-14' -> '14 Feb'. */
export function showDay(on) {
  return showDate(on).replace(/ \d+$/, '');
}

/** Two dates -> '14 Feb 2027 to 20 Feb 2027'; the same day twice is said once, and a missing one as what it means. */
export function showRange(from, to, { noEnd = NOT_KNOWN } = {}) {
  if (from && from === to) return showDate(from);
  return `${showDate(from)} to ${to ? showDate(to) : noEnd}`;
}

/** An instant -> '14 Feb 2027, 07:03' by the phone's own clock and zone. */
export function showInstant(at) {
  if (!at) return NOT_KNOWN;
  const when = new Date(at);
  const two = (n) => String(n).padStart(2, '0');
  return `${when.getDate()} ${MONTHS[when.getMonth()]} ${when.getFullYear()}, ${two(when.getHours())}:${two(when.getMinutes())}`;
}

/** How long ago: 'just now', '3 minutes ago', '2 hours ago', '5 days ago'. */
export function showAgo(at, now = Date.now()) {
  if (!at) return 'never';
  const minutes = Math.round((now - new Date(at).getTime()) / 60_000);
  if (minutes < 1) return 'just now';
  if (minutes < 60) return `${count(minutes, 'minute', 'minutes')} ago`;
  if (minutes < 48 * 60) return `${count(Math.round(minutes / 60), 'hour', 'hours')} ago`;
  return `${count(Math.round(minutes / 1440), 'day', 'days')} ago`;
}

/** Part of a tree, from mm: '412 mm', from a metre on '1.25 m'. */
export function showLength(mm) {
  if (mm === null || mm === undefined) return NOT_KNOWN;
  return mm < 1000 ? `${Math.round(mm)} mm` : `${Number((mm / 1000).toFixed(2))} m`;
}

/** On the ground, from m: '4 m', '340 m', '1.2 km', '17 km'. */
export function showDistance(m) {
  if (m === null || m === undefined) return NOT_KNOWN;
  if (m < 1000) return `${Math.round(m)} m`;
  return m < 10_000 ? `${(m / 1000).toFixed(1)} km` : `${Math.round(m / 1000)} km`;
}

/** Bytes as people count them: '0.4 MB', '21 MB', '1.3 GB'. */
export function showSize(bytes) {
  const mb = bytes / 1e6;
  if (mb >= 1000) return `${(mb / 1000).toFixed(1)} GB`;
  return mb >= 10 ? `${Math.round(mb)} MB` : `${Math.max(0.1, mb).toFixed(1)} MB`;
}

/** '1 tree', '3 trees'. */
export function count(n, one, many) {
  return `${n} ${n === 1 ? one : many}`;
}

function word(table, code) {
  if (!code) return NOT_KNOWN;
  return table[code.replaceAll('-', '_')] ?? code.replaceAll(/[-_]/g, ' ');
}

/** The word for an event. */
export const eventWord = (kind) => EVENTS[kind] ?? String(kind ?? 'event').replaceAll(/[-_]/g, ' ');
export const stageWord = (stage) => word(STAGES, stage);
/** What the word for a stage means, in one line; null for a word that is none of ours. */
export const stageMeaning = (stage) => STAGE_MEANINGS[stage] ?? null;
export const workWord = (work) => word(WORKS, work);
export const consentWord = (kind) => word(CONSENTS, kind);
export const consentStateWord = (state) => word(CONSENT_STATES, state);
export const CONSENT_KINDS = Object.keys(CONSENTS);
/** What a consent is called: its own name where its kind is other. @param {object} fields of a consent record */
export const consentName = (fields) => (fields.kind === 'other' && fields.name ? fields.name : consentWord(fields.kind));
export const methodWord = (method) => word(METHODS, method);
export const METHOD_KINDS = Object.keys(METHODS);
/** What a landholder can be to the ground. */
export const ROLES = ['owner', 'occupier', 'agent'];

/** The name on the species card in the pack, else the short name as words. */
export function speciesName(pack, kind) {
  if (!kind) return 'kind not known';
  return pack?.species?.find((card) => card.kind === kind)?.name ?? kind.replaceAll('-', ' ');
}

/** How a source was read, told in words: '[seen: abstract]' -> '(abstract read)'. */
export function plainSources(text) {
  return String(text ?? '')
    .replaceAll('[seen: abstract]', '(abstract read)')
    .replaceAll('[seen: second-hand]', '(told by another text)')
    .replaceAll('[seen]', '(read)')
    .replaceAll('[memory]', '(from memory, not looked up)');
}

/** What a tree is called in a sentence: its tag, or that it has none. */
export function tagName(tag, otherwise = 'the tree without a tag') {
  return tag ? String(tag) : otherwise;
}

const DESK_WIDE = '(min-width: 56.25rem)';
const DESK_NAMES = /\b(desk|desktop|laptop|computer|pc|mac)\b/i;
let ownName = null;

/** Tell what this device is called at home, so that it can be spoken of as what it is. */
export function setOwnName(name) {
  ownName = name ?? null;
}

/** 'phone' or 'desk': what the app is open on, by its name at home or by its width. */
export function here() {
  if (ownName !== null && DESK_NAMES.test(ownName)) return 'desk';
  return globalThis.matchMedia?.(DESK_WIDE).matches ? 'desk' : 'phone';
}

/** A sentence about this phone, as it is said on a desk. */
export function sayHere(text) {
  if (here() === 'phone') return text;
  return text.replaceAll(/the phone’s settings(, under location[^;.]*)?/g, 'the browser’s settings for this address').replaceAll(/\b([Tt]his) phone(?!’s settings)/g, '$1 desk');
}
