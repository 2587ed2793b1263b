/** The form of a leave: who gives it, as what, for what, on which terms. Lengths are typed in cm and kept in mm. */

import { entitledHint, rightsOf } from '../core/leave_terms.js';
import { cmToMm, mmToCm } from '../core/lengths.js';
import { NAME_LENGTH, chips, dateField, noteField, numberField, textField } from './form.js';
import { html } from './html.js';
import { RIGHT_LENGTH, YES_NO_UNKNOWN, roleChips } from './site_forms.js';
import { rowsOf, termRows, termsOf, withoutRows } from './term_rows.js';
import { METHOD_KINDS, methodWord } from './words.js';

const SOMEONE_NEW = 'new';

/** A draft of an older app holds its terms as lines of one text. */
const linesOf = (text) => String(text ?? '').split('\n').map((line) => line.trim()).filter(Boolean);

/** Fields of a leave record -> what the form shows. */
export function formOfLeave(fields) {
  return { ...fields, max_girth_cm: mmToCm(fields.max_girth_mm) };
}

/**
 * What the form holds -> fields of the leave and, when someone new gives it, of a landholder.
 * @param {object} values what readForm gave
 * @returns {{leave: object, landholder: object|null}}
 */
export function leaveOfForm(values) {
  const { max_girth_cm: girth, holder_name: name, holder_phone: phone, holder_email: email, ...rest } = withoutRows(values);
  const isNew = rest.landholder === SOMEONE_NEW;
  return {
    leave: {
      ...rest,
      landholder: isNew ? null : rest.landholder,
      max_girth_mm: cmToMm(girth),
      species: rest.species?.length ? rest.species : null,
      methods: rest.methods?.length ? rest.methods : null,
      conditions: termsOf(values),
    },
    landholder: isNew ? { name: name ?? null, phone: phone ?? null, email: email ?? null } : null,
  };
}

/** What does not fit together in a leave: {field, sentence}, or null. */
export function faultOfLeave(values) {
  if (values.landholder === SOMEONE_NEW && !values.holder_name) return { field: 'holder_name', sentence: 'The landholder’s name is needed.' };
  if (values.starts_on && values.ends_on && values.ends_on < values.starts_on) return { field: 'ends_on', sentence: 'The last day lies before the first. Set one of them again.' };
  return null;
}

/** Who gives it: those of this ground first, others folded below them. The first group always has "someone new". */
function giverChips(chosen, here, elsewhere) {
  const option = ({ id, name, role }) => ({ value: id, label: [name ?? 'no name', role].filter(Boolean).join(', ') });
  const isElsewhere = elsewhere.some(({ id }) => id === chosen);
  return html`${chips({ name: 'landholder', label: 'Who gives leave', value: chosen, required: true, options: [...here.map(option), { value: SOMEONE_NEW, label: 'someone new', icon: 'plus' }] })}
    ${elsewhere.length > 0 && html`<details class="fold" ${isElsewhere ? html`open` : ''}><summary>Someone known from other ground</summary>
      ${chips({ name: 'landholder', label: 'From other ground', value: chosen, options: elsewhere.map(option) })}</details>`}`;
}

/** What to ask about their right, by what they are; drawn again when that is chosen. */
export function rightHint(role) {
  return html`${entitledHint(role ?? null)}`;
}

/**
 * @param {object} values what formOfLeave gave, or a draft
 * @param {{here: object[], elsewhere: object[], species: {kind: string, name: string}[], isNew: boolean}} known here, elsewhere:
 *   landholders as {id, name, role}, of this site and of others
 */
export function leaveFields(values, { here, elsewhere, species, isNew }) {
  const chosen = values.landholder ?? (isNew && here.length + elsewhere.length === 0 ? SOMEONE_NEW : null);
  const kinds = [...species];
  for (const kind of values.species ?? []) if (!kinds.some((one) => one.kind === kind)) kinds.push({ kind, name: kind.replaceAll('-', ' ') });
  return html`
    <div class="cols form-cols"><div>
    <h2>Who</h2>
    ${giverChips(chosen, here, elsewhere)}
    <div class="stack new-holder" ${chosen === SOMEONE_NEW ? '' : html`hidden`}>
      ${textField({ name: 'holder_name', label: 'Landholder’s name', value: values.holder_name, maxLength: NAME_LENGTH })}
      ${textField({ name: 'holder_phone', label: 'Telephone', value: values.holder_phone, maxLength: NAME_LENGTH, type: 'tel', inputmode: 'tel' })}
      ${textField({ name: 'holder_email', label: 'E-mail', value: values.holder_email, maxLength: NAME_LENGTH, type: 'email', inputmode: 'email' })}
    </div>
    ${roleChips('by_role', 'As what they give it', values.by_role)}
    ${textField({ name: 'by_right', label: 'By what right', value: values.by_right, maxLength: RIGHT_LENGTH, options: rightsOf(values.by_role ?? null), hint: 'As: owns it; the tenancy allows it; acts for the owner, letter of 3 May' })}
    ${chips({ name: 'entitled', label: 'May this person give leave here?', value: values.entitled ?? null, options: YES_NO_UNKNOWN })}
    <p class="note-line" data-right-hint aria-live="polite">${rightHint(values.by_role)}</p>
    <h2>By word or on paper</h2>
    ${chips({ name: 'form', label: 'How it was given', value: values.form ?? null, required: true, options: [{ value: 'signed', label: 'signed paper', icon: 'leave' }, { value: 'spoken', label: 'spoken only', icon: 'landholder' }, { value: 'asked', label: 'asked, no answer yet', icon: 'ask' }], hint: 'Asked only: it is no leave yet, and May I? does not count it' })}
    <div class="two">
      ${dateField({ name: 'given_on', label: 'Asked, said or signed on', value: values.given_on, today: true, past: true })}
      ${textField({ name: 'signed_by', label: 'Name on the paper', value: values.signed_by, maxLength: NAME_LENGTH })}
    </div>
    </div><div>
    <h2>What is agreed</h2>
    <div class="two">
      ${dateField({ name: 'starts_on', label: 'First day', value: values.starts_on, required: true, today: true, yearsAhead: 10 })}
      ${dateField({ name: 'ends_on', label: 'Last day', value: values.ends_on, hint: 'Counts too. Empty: no end was agreed.' })}
    </div>
    ${chips({ name: 'species', label: 'Kinds', value: values.species ?? null, multiple: true, options: kinds.filter((one) => one.kind !== 'default').map((one) => ({ value: one.kind, label: one.name })), hint: 'None chosen: any kind' })}
    <div class="two">
      ${numberField({ name: 'allowance', label: 'Number of trees agreed', value: values.allowance, min: 0, max: 1000, start: 1, hint: 'Empty: no number was agreed' })}
      ${numberField({ name: 'max_girth_cm', label: 'Girth up to', unit: 'cm', value: values.max_girth_cm, min: 1, max: 1500, step: 5, start: 40, whole: false, hint: 'Empty: no limit was agreed' })}
    </div>
    ${chips({ name: 'methods', label: 'How it may be dug', value: values.methods ?? null, multiple: true, options: METHOD_KINDS.map((method) => ({ value: method, label: methodWord(method) })), hint: 'None chosen: nothing was agreed about it' })}
    </div></div>
    ${termRows(rowsOf(values) ?? values.conditions ?? linesOf(values.conditions_text))}
    ${noteField({ name: 'note', label: 'Note', value: values.note })}`;
}
