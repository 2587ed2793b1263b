/** Species cards in words: the works, the values, the edges of a window, and what a person changed. */

import { changesIn, plainEdge } from '../core/card_edit.js';
import { count, eventWord } from './words.js';

export const WORKS = {
  prepare: 'Prepare the roots', lift: 'Lift', repot: 'Repot', trim: 'Trim', 'hard-prune': 'Hard prune', wire: 'Wire', unwire: 'Take wire off',
  defoliate: 'Defoliate', feed: 'Feed', shelter: 'Shelter from cold', suckers: 'Take suckers',
};
const TRAITS = {
  leaf_type: 'Leaf', bleeding_0_3: 'Bleeds when cut, 0 to 3', dieback_0_3: 'Gives up limbs, 0 to 3', back_buds_on_old_wood: 'Buds from old wood',
  moisture_1_5: 'Thirst, 1 to 5', root_kill_c: 'Roots die at, °C', root_kill_young_c: 'Young roots die at, °C', root_kill_basis: 'About that figure',
  protect_below_c_year1: 'Shelter below in the first year, °C', protect_below_c_later: 'Shelter below later, °C', shade_weeks: 'Weeks of shade after the lift',
  mist_after_lift: 'Mist after the lift', bare_root_tolerated: 'Bare roots borne', keep_native_soil_core: 'Keep its own soil', ball_to_stem_ratio: 'Ball to stem, times',
  first_prune_after: 'First trim after', first_prune_min_days_after_flush_hardened: 'Days from hardened leaf to trimming', first_prune_min_months_after_lift: 'Months from lift to first trim',
  first_styling_years_min: 'Years to first styling, at least', first_styling_years_max: 'Years to first styling, at most', repot_years_between: 'Years between repottings',
  decorative_pot_years_min: 'Years to a show pot, at least', decorative_pot_years_max: 'Years to a show pot, at most', wire_weeks_min: 'Weeks of wire, at least', wire_weeks_max: 'Weeks of wire, at most',
  suckers_to_watch: 'Suckers', plant_health_check: 'Prone to', autumn_hazard_lists_0_3: 'On lists against autumn lifting, of 3', bud_break_by_day_length: 'Wakes by length of day',
  cut_below_mm: 'Cuts close below, mm', cut_below_strong_mm: 'On a strong branch below, mm',
};
const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December'];

export const MONTH_CHOICES = MONTHS.map((name, i) => [i + 1, name]);
export const CARD_EVENTS = ['bud_swell', 'bud_break', 'flush_hardened', 'leaf_colour', 'leaf_fall', 'frost'];

export const capital = (text) => (text ? text[0].toUpperCase() + text.slice(1) : '');
const NOUNS = { leaf_fall: 'leaf fall', frost: 'first frost' };
export const cardEventWord = (event) => NOUNS[event] ?? eventWord(event);
export const traitWord = (name) => TRAITS[name] ?? capital(String(name).replaceAll('_', ' '));
export const valueWord = (value) => (value === true ? 'yes' : value === false ? 'no' : String(value).replace(/^-(?=\d)/, '−'));

/** '03-20' -> '20 March'. */
export function monthDayWords(text) {
  const [month, day] = String(text).split('-').map(Number);
  return MONTHS[month - 1] ? `${day} ${MONTHS[month - 1]}` : String(text);
}

/** '21 days before buds swelling', '1 August', '1 August at every place'. */
export function edgeWords(raw) {
  const edge = plainEdge(raw);
  if (edge.event === undefined) return `${monthDayWords(edge.on)}${edge.moves === 'no' ? ' at every place' : ''}`;
  const days = Math.abs(edge.days);
  return days === 0 ? `with ${cardEventWord(edge.event)}` : `${count(days, 'day', 'days')} ${edge.days < 0 ? 'before' : 'after'} ${cardEventWord(edge.event)}`;
}

/** What a part of a card is called: 'Lift', 'Trim, window 2', 'Usual date of leaf colour'. */
export function partWords(part) {
  const [layer, name, number] = String(part ?? '').split('.');
  if (layer === 'traits') return traitWord(name);
  if (layer === 'events') return `Usual date of ${cardEventWord(name)}`;
  const work = WORKS[name] ?? capital(name ?? 'this card');
  return number === undefined || number === '1' ? work : `${work}, window ${number}`;
}

/** What a change says, without its reason: 'opens 21 days before buds swelling; closes 1 August, strictly'. */
export function changeWords(part, change) {
  const layer = part.split('.')[0];
  if (layer === 'traits') return valueWord(change.value);
  if (layer === 'events') return `about ${monthDayWords(change.on)}`;
  const ends = [['opens', 'hard_open'], ['closes', 'hard_close']].map(([end, hard]) => {
    const firm = change[hard] === true ? 'strictly' : change[hard] === false ? 'with some give' : null;
    if (change[end] === undefined && firm === null) return null;
    return [change[end] === undefined ? end : `${end} ${edgeWords(change[end])}`, firm].filter(Boolean).join(', ');
  });
  return ends.filter(Boolean).join('; ') || 'another reason';
}

/** The reasons that a change gives. @returns {string[]} */
export const changeReasons = (change) => ['why', 'why_opens', 'why_closes'].map((name) => change[name]).filter((why) => typeof why === 'string' && why);

/** A window as the card has it, in one line. */
export function ruleWords({ opens, closes, hard_open: hardOpen, hard_close: hardClose }) {
  return `opens ${edgeWords(opens)}, ${hardOpen ? 'strictly' : 'with some give'}; closes ${edgeWords(closes)}, ${hardClose ? 'strictly' : 'with some give'}`;
}

/** The card of a record, for telling two of them apart. @returns {string|null} null: a whole card, or nothing to be read */
export function cardValueWords(card) {
  const told = changesIn(card).map(([part, change]) => [`${partWords(part)}: ${changeWords(part, change)}`, ...changeReasons(change)].join('. '));
  return told.length > 0 ? told.join('; ') : null;
}
