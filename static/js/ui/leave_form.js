/** The form of a leave: who gives it, for what, on which terms. Lengths are typed in cm and kept in mm. */

import { cmToMm, mmToCm } from '../core/lengths.js';
import { NAME_LENGTH, chips, dateField, noteField, numberField, textField } from './form.js';
import { html } from './html.js';
import { YES_NO_UNKNOWN } from './site_forms.js';

const SOMEONE_NEW = 'new';
const ROLES = ['owner', 'occupier', 'agent'];

/** Fields of a leave record -> what the form shows. */
export function formOfLeave(fields) {
  return { ...fields, max_girth_cm: mmToCm(fields.max_girth_mm), conditions_text: (fields.conditions ?? []).join('\n') };
}

/**
 * What the form holds -> fields of the leave and, when someone new gives it, of a landholder.
 * @param {object} values what readForm gave
 * @returns {{leave: object, landholder: object|null}}
 */
export function leaveOfForm(values) {
  const { max_girth_cm: girth, conditions_text: conditions, holder_name: name, holder_role: role, holder_phone: phone, holder_email: email, ...rest } = values;
  const isNew = rest.landholder === SOMEONE_NEW;
  const lines = (conditions ?? '').split('\n').map((line) => line.trim()).filter(Boolean);
  return {
    leave: {
      ...rest,
      landholder: isNew ? null : rest.landholder,
      max_girth_mm: cmToMm(girth),
      species: rest.species?.length ? rest.species : null,
      conditions: lines.length ? lines : null,
    },
    landholder: isNew ? { name: name ?? null, role: role ?? null, phone: phone ?? null, email: email ?? null } : null,
  };
}

/** What does not fit together in a leave: {field, sentence}, or null. */
export function faultOfLeave(values) {
  if (values.landholder === SOMEONE_NEW && !values.holder_name) return { field: 'holder_name', sentence: 'The landholder’s name is needed.' };
  if (values.starts_on && values.ends_on && values.ends_on < values.starts_on) return { field: 'ends_on', sentence: 'The last day lies before the first. Set one of them again.' };
  if (values.withdrawn_on && values.starts_on && values.withdrawn_on < values.starts_on) return { field: 'withdrawn_on', sentence: 'It cannot be withdrawn before its first day. Set one of them again.' };
  return null;
}

/**
 * @param {object} values what formOfLeave gave, or a draft
 * @param {{landholders: object[], species: {kind: string, name: string}[], isNew: boolean}} known
 */
export function leaveFields(values, { landholders, species, isNew }) {
  const chosen = values.landholder ?? (isNew && landholders.length === 0 ? SOMEONE_NEW : null);
  const kinds = [...species];
  for (const kind of values.species ?? []) if (!kinds.some((one) => one.kind === kind)) kinds.push({ kind, name: kind.replaceAll('-', ' ') });
  return html`
    ${chips({ name: 'landholder', label: 'Who gives leave', value: chosen, required: true, options: [...landholders.map((one) => ({ value: one.id, label: one.fields.name ?? 'no name' })), { value: SOMEONE_NEW, label: 'someone new', icon: 'plus' }] })}
    <div class="stack new-holder" ${chosen === SOMEONE_NEW ? '' : html`hidden`}>
      ${textField({ name: 'holder_name', label: 'Landholder’s name', value: values.holder_name, maxLength: NAME_LENGTH })}
      ${chips({ name: 'holder_role', label: 'What they are to the ground', value: values.holder_role ?? null, options: [...ROLES.map((role) => ({ value: role, label: role })), { value: null, label: 'not known' }] })}
      ${textField({ name: 'holder_phone', label: 'Telephone', value: values.holder_phone, maxLength: NAME_LENGTH, type: 'tel', inputmode: 'tel' })}
      ${textField({ name: 'holder_email', label: 'E-mail', value: values.holder_email, maxLength: NAME_LENGTH, type: 'email', inputmode: 'email' })}
    </div>
    ${chips({ name: 'form', label: 'How it was given', value: values.form ?? null, required: true, options: [{ value: 'signed', label: 'signed paper', icon: 'leave' }, { value: 'spoken', label: 'spoken only', icon: 'landholder' }] })}
    <div class="two">
      ${dateField({ name: 'starts_on', label: 'First day', value: values.starts_on, required: true, today: true, yearsAhead: 10 })}
      ${dateField({ name: 'ends_on', label: 'Last day', value: values.ends_on, hint: 'Counts too. Empty: no end was agreed.' })}
    </div>
    ${chips({ name: 'species', label: 'Kinds', value: values.species ?? null, multiple: true, options: kinds.filter((one) => one.kind !== 'default').map((one) => ({ value: one.kind, label: one.name })), hint: 'None chosen: any kind' })}
    <div class="two">
      ${numberField({ name: 'allowance', label: 'Number of trees agreed', value: values.allowance, min: 0, max: 1000, start: 1, hint: 'Empty: no number was agreed' })}
      ${numberField({ name: 'max_girth_cm', label: 'Girth up to', unit: 'cm', value: values.max_girth_cm, min: 1, max: 1500, step: 5, start: 40, whole: false, hint: 'Empty: no limit was agreed' })}
    </div>
    ${chips({ name: 'entitled', label: 'May this person give leave here?', value: values.entitled ?? null, options: YES_NO_UNKNOWN, hint: 'The owner may; a tenant or neighbour may not be able to. Ask to be sure.' })}
    ${textField({ name: 'signed_by', label: 'Name on the paper', value: values.signed_by, maxLength: NAME_LENGTH })}
    ${noteField({ name: 'conditions_text', label: 'Terms to keep', value: values.conditions_text, rows: 4, hint: 'One to a line, as: Close the gates. They come up to be ticked before you dig.' })}
    ${noteField({ name: 'note', label: 'Note', value: values.note })}
    ${!isNew && dateField({ name: 'withdrawn_on', label: 'Withdrawn on', value: values.withdrawn_on, yearsAhead: 10, hint: 'From that very day on there is no leave' })}`;
}
