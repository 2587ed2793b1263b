/** Records and their fields in words, for telling two values of one thing apart. */

import { showCm } from '../core/lengths.js';
import { areaHa } from '../core/area_text.js';
import { cardValueWords } from './card_words.js';
import { degreesWords } from './degrees.js';
import { NOT_KNOWN, consentStateWord, consentWord, count, methodWord, showDate, showInstant, speciesName, stageWord, workWord } from './words.js';

const TYPES = {
  site: 'Site', landholder: 'Landholder', leave: 'Leave', consent: 'Consent', tree: 'Tree', fix: 'Position', visit: 'Visit', lift: 'Lift',
  photo: 'Photo', track: 'Walk', event: 'Event', work: 'Work', task_state: 'Task', species_card: 'Species card', box: 'Box', weather_day: 'Weather of a day', garden: 'Garden',
  collector: 'Keeper of this log', holding: 'Landholder’s part in a site', paper: 'Paper', signing: 'Signed version', ground_check: 'Answer about the ground',
  forgetting: 'Note that a person was forgotten',
};

const FIELDS = {
  name: 'name', zone: 'time zone', boundary: 'boundary', height_m: 'height above the sea', protected: 'protected ground', services_checked_on: 'buried services checked on',
  note: 'note', role: 'role', phone: 'telephone', email: 'e-mail', address: 'address', site: 'site', landholder: 'landholder', area: 'area', starts_on: 'first day',
  ends_on: 'last day', withdrawn_on: 'withdrawn on', withdrawn_how: 'how the withdrawal was told', species: 'kind', max_girth_mm: 'girth limit', allowance: 'number agreed', form: 'how it was given',
  entitled: 'may give leave', conditions: 'terms', signed_by: 'signed by', paper: 'photo of the paper', kind: 'kind', state: 'how it stands', until: 'until', reference: 'reference',
  tag: 'tag', origin: 'origin', girth_mm: 'girth', height_mm: 'height', condition: 'condition', marked_on: 'marked on', ended_as: 'ended as', ended_on: 'ended on',
  lifted_on: 'lifted on', lifted_at: 'lifted at', ball_diameter_mm: 'root ball across', ball_depth_mm: 'root ball deep', roots_kept: 'roots kept', machine: 'with a machine',
  hole_filled: 'hole filled', happened_on: 'date', done_on: 'done on', hours: 'hours', settled_on: 'settled on', volume_l: 'volume', boxed_on: 'boxed on', tree: 'tree', leave: 'leave',
  lat: 'latitude', lon: 'longitude', accuracy_m: 'accuracy', taken_at: 'taken at', visited_on: 'visited on', length_mm: 'length', width_mm: 'width', deleted: 'kept or removed',
  country: 'country', by_role: 'as what it was given', by_right: 'by what right', renews: 'the leave it renews', given_on: 'said or signed on', methods: 'how it is dug',
  authority: 'who gives it', consent: 'consent', sha256: 'the file itself', media_type: 'kind of file', size_bytes: 'size', file_name: 'name of the file', added_on: 'added on',
  version: 'version', letter: 'letter as it was read', strokes: 'signature', place: 'place', signed_at: 'signed at', signed_on: 'signed on', content_sha256: 'seal of the signed letter',
  question: 'question', answer: 'answer', told_by: 'who said so', shows: 'what it shows', task: 'task', event: 'event', task_state: 'task',
  stands_at: 'stands in', is_main: 'where trees stand unless told otherwise', day_on: 'day', tmin_c: 'lowest', tmax_c: 'highest', how: 'how it was noted', batch: 'which file', shift_days: 'days later than the cards', detail: 'figures', card: 'what was changed',
};

/** 'Tree H-12', 'Site Wether Rig': what a record is called. */
export function recordWords(record, pack = null) {
  const { fields } = record;
  const own = fields.tag ?? fields.name ?? (record.type === 'tree' ? speciesName(pack, fields.species) : null) ?? (fields.kind ? fields.kind.replaceAll(/[-_]/g, ' ') : null);
  const type = TYPES[record.type] ?? 'Entry';
  if (record.type === 'leave' && fields.starts_on) return `${type} from ${showDate(fields.starts_on)}`;
  if (record.type === 'weather_day' && fields.day_on) return `Weather of ${showDate(fields.day_on)}`;
  if (record.type === 'signing' && fields.version) return `${type} ${fields.version}`;
  if (record.type === 'paper' && fields.file_name) return `${type} ${fields.file_name}`;
  return own ? `${type} ${own}` : type;
}

/** The word for a type of record, in the middle of a sentence. */
export const typeWord = (type) => (TYPES[type] ?? 'entry').toLowerCase();

/** The word for a field. */
export const fieldWord = (name) => FIELDS[name] ?? name.replaceAll('_', ' ');

/**
 * A value as a person reads it.
 * @param {string} type type of the record @param {string} name field @param {any} value
 * @param {{pack?: object|null, names?: Map<string, string>}} known names: words for the ids of other records
 */
export function valueWords(type, name, value, known = {}) {
  try {
    return wordsFor(type, name, value, known);
  } catch { // a newer version may write something else under a name like ours: told plainly, and the list around it stands
    return plainWords(value);
  }
}

function plainWords(value) {
  if (Array.isArray(value)) return value.map((one) => (typeof one === 'object' ? 'an entry' : String(one))).join('; ') || 'none';
  return typeof value === 'object' ? 'a longer entry' : String(value);
}

/** 'an area of about 1.20 ha with 5 corners': two areas of one size are told apart by their corners. */
function areaWords(area) {
  const rings = (area.type === 'MultiPolygon' ? area.coordinates : [area.coordinates]).flat();
  const corners = rings.reduce((sum, ring) => sum + ring.length - 1, 0);
  return `an area of about ${areaHa(area).toFixed(2)} ha with ${count(corners, 'corner', 'corners')}`;
}

function wordsFor(type, name, value, { pack = null, names = new Map() }) {
  if (name === 'deleted') return value ? 'removed' : 'kept';
  if (value === null || value === undefined) return NOT_KNOWN;
  if (value === true) return 'yes';
  if (value === false) return 'no';
  if (names.has(value)) return names.get(value);
  if (name === 'boundary' || name === 'area') return areaWords(value);
  if (name === 'species') return [value].flat().map((kind) => speciesName(pack, kind)).join(', ');
  if (type === 'consent' && name === 'kind') return consentWord(value);
  if (type === 'consent' && name === 'state') return consentStateWord(value);
  if (type === 'work' && name === 'kind') return workWord(value);
  if (type === 'species_card' && name === 'card') return cardValueWords(value) ?? plainWords(value);
  if (name === 'methods') return [value].flat().map(methodWord).join(', ');
  if (name === 'shows') return value === 'hole' ? 'the filled hole' : String(value);
  if (name === 'strokes') return 'a signature';
  if (name === 'size_bytes') return `${Math.max(1, Math.round(value / 1000))} kB`;
  if (name === 'ended_as') return stageWord(value);
  if (name === 'paper') return 'a photo';
  if (name === 'sha256' || name === 'content_sha256') return `${String(value).slice(0, 8)} …`;
  if (/_(mm|m|l)$/.test(name) && typeof value !== 'number') return plainWords(value);
  if (/_(at|on)$/.test(name) && Number.isNaN(Date.parse(value))) return plainWords(value);
  if (name.endsWith('_mm')) return showCm(value);
  if (name.endsWith('_m')) return `${Number(value.toFixed(1))} m`;
  if (name.endsWith('_c') && typeof value === 'number') return degreesWords(value);
  if (name.endsWith('_l')) return `${value} L`;
  if (name.endsWith('_at')) return showInstant(value);
  if (name.endsWith('_on') || name === 'until') return showDate(value);
  return plainWords(value);
}
