/**
 * The letter by which a landholder gives leave: its words, as plain JSON that is shown, printed and signed. Twin of
 * field/core/leave_letter.py, letter for letter, for what was signed is kept as this document.
 *
 * What is not known is left open as a line to write on, never made up.
 */

import { findDate, showDate } from './dates.js';
import { BadInput } from './errors.js';
import { isMissing, isObject } from './units.js';

/** The one record of who keeps the log: the UUID that the core makes of its name. */
export const COLLECTOR_ID = '33beadad-5b87-5078-9a83-ee8d5aa143f6';
const VERSION = 1;
export const BLANK = '_'.repeat(24); // a line to write on within a sentence; a fact that is left open is ''

const ROLES = new Map([['owner', 'owner'], ['occupier', 'occupier'], ['agent', 'agent for the owner']]);
const TOOLS = [['hand_tools', 'hand tools'], ['machine', 'a digging machine']];

const IN_ANY_CASE = [
  'The landholder may withdraw this leave at any time, by word of mouth or in writing. From that day on nothing more '
    + 'is dug out.',
  'Local law and the consents of other authorities stand above this letter. The collector sees to them before any '
    + 'digging.',
  'Before digging with a machine, or deeper than 30 cm, the collector finds out where cables and pipes lie.',
  'The collector fills every hole on the same day, and leaves gates, fences, walls and drains as they were.',
  'The collector answers for damage that they do to the ground and to what is on it.',
  'Trees dug out within these terms are the collector’s to keep and to grow on.',
  'Where a line was left empty, nothing was agreed on that point.',
];

/**
 * The letter of a leave as a document of plain texts.
 * @param {object} facts {collector: fields or null, landholder: fields or null, role: owner, occupier or agent, by_right,
 *   site: {name, grid_ref: of the middle of the ground, area_ha}, leave: fields of the record, kinds: {kind: name},
 *   made_on: 'YYYY-MM-DD'}; each may be missing, and what is of another kind than it should be counts as missing
 * @returns {{v: number, kind: string, title: string, blocks: object[]}} blocks: facts with rows [name, value], para, heading,
 *   terms with items. A value '' stands for a line to write on, BLANK for one within a sentence.
 */
export function leaveLetter(facts) {
  const [leave, site, collector, landholder] = ['leave', 'site', 'collector', 'landholder'].map((name) => set(facts[name]));
  const role = ROLES.get(line(facts.role) || line(leave.by_role)) ?? '';
  const byRight = line(facts.by_right) || line(leave.by_right);
  const name = line(site.name);
  const rows = [
    ['Landholder', line(landholder.name)],
    ['Their address', line(landholder.address)],
    ['Collector', line(collector.name)],
    ['Collector’s address', line(collector.address)],
    ['Collector’s telephone', line(collector.phone)],
    ['Site', name],
    ['Grid reference of its middle', line(site.grid_ref)],
    ['Size', hectares(site.area_ha)],
    ['Written on', dayWords(facts.made_on)],
  ];
  const opening = `I, ${rows[0][1] || BLANK}, ${role || BLANK} of the ground named above, give ${rows[2][1] || BLANK} leave to dig `
    + 'out living trees there and to take them away, to be grown on, on the terms below.';
  let right = `I may give this leave by this right: ${BLANK}.`;
  if (byRight) right = `I may give this leave by this right: ${fullStop(byRight)}`;
  else if (role === 'owner') right = 'I am the owner of this ground and may give this leave.';
  const blocks = [
    { kind: 'facts', rows },
    { kind: 'para', text: opening },
    { kind: 'para', text: right },
    ...history(facts, leave).map((text) => ({ kind: 'para', text })),
    { kind: 'heading', text: 'What is agreed' },
    { kind: 'terms', items: agreed(leave, set(facts.kinds)) },
  ];
  const conditions = lines(leave.conditions).map(sentence);
  if (conditions.length > 0) blocks.push({ kind: 'heading', text: 'Conditions to keep' }, { kind: 'terms', items: conditions });
  blocks.push({ kind: 'heading', text: 'What holds in any case' }, { kind: 'terms', items: [...IN_ANY_CASE] });
  return { v: VERSION, kind: 'leave', title: name ? `Leave to lift trees: ${name}` : 'Leave to lift trees', blocks };
}

function history(facts, leave) {
  const told = [];
  const withdrawn = dayWords(leave.withdrawn_on);
  const signed = dayWords(facts.signed_before_on);
  if (signed) told.push(`This letter takes the place of the one signed on ${signed}.`);
  else if (leave.form === 'spoken') told.push(`This letter puts in writing what was said on ${dayWords(leave.given_on) || BLANK}.`);
  if (line(leave.renews)) told.push('It follows an earlier leave for this ground; that one stays as it was.');
  if (withdrawn) told.push(`This leave was withdrawn on ${withdrawn}.`);
  return told;
}

function agreed(leave, names) {
  const ground = isMissing(leave.area) ? 'the whole site' : 'only the area marked on the sketch';
  const number = whole(leave.allowance);
  const kinds = isMissing(leave.species) ? 'any kind of tree' : join(lines(leave.species).map((kind) => kindName(kind, names)));
  return [
    `Ground: ${ground}.`,
    `Time: from ${dayWords(leave.starts_on) || BLANK} to ${dayWords(leave.ends_on) || BLANK}; both days count.`,
    `Kinds: ${kinds || BLANK}.`,
    `Number: no more than ${number || BLANK} ${number === '1' ? 'tree' : 'trees'} in all.`,
    `Girth: no more than ${cm(leave.max_girth_mm) || BLANK} around the trunk, just above the roots.`,
    `Methods: ${methodWords(leave.methods)}.`,
  ];
}

function methodWords(methods) {
  if (!Array.isArray(methods)) return BLANK;
  const tools = TOOLS.filter(([name]) => methods.includes(name)).map(([, word]) => word);
  const notAgreed = methods.includes('machine') ? [] : ['no digging machine'];
  if (!methods.includes('vehicle')) notAgreed.push('no vehicle on the ground');
  const said = tools.length > 0 ? [join(tools)] : [];
  if (methods.includes('vehicle')) said.push('a vehicle may be brought onto the ground');
  return [...said, ...(notAgreed.length > 0 ? [join(notAgreed)] : [])].join('; ');
}

function kindName(kind, names) {
  return (Object.hasOwn(names, kind) && line(names[kind])) || kind.replaceAll(/[-_]/g, ' ');
}

function set(value) {
  return isObject(value) ? value : {};
}

/** A text as one line, its own lines joined by commas; '' for anything else. */
function line(value) {
  if (typeof value !== 'string') return '';
  return value.split(/[\r\n]+/)
    .map((part) => part.replaceAll(/[ \t]+/g, ' ').replaceAll(/^[ \t,]+|(?<![ \t,])[ \t,]+$/g, ''))
    .filter(Boolean).join(', ');
}

function lines(value) {
  return Array.isArray(value) ? value.map(line).filter(Boolean) : [];
}

function dayWords(value) {
  try {
    const day = findDate(value, 'The day', '');
    return day === null ? '' : showDate(day);
  } catch (fault) {
    if (fault instanceof BadInput) return '';
    throw fault;
  }
}

function whole(value) {
  return Number.isSafeInteger(value) && value >= 0 ? String(value) : '';
}

/** Whole millimetres as '45 cm' or '45.5 cm'. */
function cm(value) {
  if (whole(value) === '') return '';
  const rest = value % 10;
  return rest ? `${(value - rest) / 10}.${rest} cm` : `${value / 10} cm`;
}

/** An area in words: '1.84 hectares'; below a hundredth as 'less than 0.01 hectares'. */
function hectares(value) {
  if (typeof value !== 'number' || !(value > 0 && value < 1e9)) return '';
  const hundredths = Math.floor(value * 100 + 0.5); // by whole numbers: the two languages round halves differently
  if (hundredths === 0) return 'less than 0.01 hectares';
  return `${Math.floor(hundredths / 100)}.${String(hundredths % 100).padStart(2, '0')} hectares`;
}

function join(words) {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

function sentence(text) {
  // Only a to z is made large: for other letters the two languages need not agree.
  return fullStop(/^[a-z]/.test(text) ? text[0].toUpperCase() + text.slice(1) : text);
}

function fullStop(text) {
  return `${text.replace(/(?<![ \t.])[ \t.]+$/, '')}.`;
}
