/** The forms of a site, its landholders, what they are to it, and its consents: fields only, each screen saves them itself. */

import { rightsOf } from '../core/leave_terms.js';
import { NAME_LENGTH, chips, dateField, noteField, numberField, textField } from './form.js';
import { html } from './html.js';
import { CONSENT_KINDS, ROLES, consentStateWord, consentWord } from './words.js';

export const YES_NO_UNKNOWN = [
  { value: true, label: 'yes' },
  { value: false, label: 'no' },
  { value: null, label: 'not known' },
];

export const RIGHT_LENGTH = 300; // a sentence, not a deed

/** The person's own number of days for a place. @param {number|null} value */
export function shiftField(value) {
  return numberField({ name: 'shift_days', label: 'Seasons here run later by', unit: 'days', value: value ?? null, step: 1, start: 0, min: -120, max: 120, hint: 'Your own number of days against the species cards; with a minus: earlier. Empty: by latitude and height' });
}

/** @param {object} values fields of a site, or a draft of them */
export function siteFields(values) {
  return html`
    ${textField({ name: 'name', label: 'Name of the site', value: values.name, required: true, maxLength: NAME_LENGTH, hint: 'As you and the landholder call it' })}
    ${chips({ name: 'protected', label: 'Is it protected ground?', options: YES_NO_UNKNOWN, value: values.protected ?? null, hint: 'A reserve, a site of scientific interest or the like. Ask the authority if you are not sure.' })}
    ${dateField({ name: 'services_checked_on', label: 'Buried services checked on', value: values.services_checked_on, today: true, past: true, hint: 'Pipes and cables, before any machine or deep digging' })}
    ${numberField({ name: 'height_m', label: 'Height above the sea', unit: 'm', value: values.height_m, step: 10, start: 200, min: -450, max: 9000, whole: false })}
    ${shiftField(values.shift_days)}
    ${textField({ name: 'zone', label: 'Time zone', value: values.zone, maxLength: NAME_LENGTH, hint: 'As Europe/London. Days of a leave begin and end by it.' })}
    ${noteField({ name: 'note', label: 'Note', value: values.note, hint: 'Gate, parking, who to ring first' })}`;
}

/** @param {object} values fields of a landholder, or a draft of them: how to reach them, the same for all their ground */
export function landholderFields(values) {
  return html`
    ${textField({ name: 'name', label: 'Name', value: values.name, required: true, maxLength: NAME_LENGTH, hint: 'A person, a farm, an estate, a company' })}
    ${textField({ name: 'phone', label: 'Telephone', value: values.phone, maxLength: NAME_LENGTH, type: 'tel', inputmode: 'tel' })}
    ${textField({ name: 'email', label: 'E-mail', value: values.email, maxLength: NAME_LENGTH, type: 'email', inputmode: 'email' })}
    ${noteField({ name: 'address', label: 'Address', value: values.address, hint: 'As it stands on a letter' })}
    ${noteField({ name: 'note', label: 'Note', value: values.note, hint: 'When to ring, whom to ask for' })}`;
}

/** @param {object} values role, by_right, here_note of a holding, or a draft of them: what somebody is to one site */
export function holdingFields(values) {
  return html`
    ${roleChips('role', 'As what', values.role)}
    ${textField({ name: 'by_right', label: 'By what right', value: values.by_right, maxLength: RIGHT_LENGTH, options: rightsOf(values.role ?? null), hint: 'As: owns it; grazing tenancy; acts for the owner, letter of 3 May' })}
    ${noteField({ name: 'here_note', label: 'Note about them here', value: values.here_note, rows: 2 })}`;
}

/** Owner, occupier, agent or not known. */
export function roleChips(name, label, value) {
  return chips({ name, label, value: value ?? null, options: [...ROLES.map((role) => ({ value: role, label: role })), { value: null, label: 'not known' }] });
}

/** @param {object} values fields of a consent, or a draft of them */
export function consentFields(values) {
  return html`
    ${chips({ name: 'kind', label: 'Which consent', options: CONSENT_KINDS.map((kind) => ({ value: kind, label: consentWord(kind) })), value: values.kind ?? null, required: true })}
    <div class="stack other-name" ${values.kind === 'other' ? '' : html`hidden`}>${textField({ name: 'name', label: 'What it is called', value: values.name, maxLength: NAME_LENGTH })}</div>
    ${chips({ name: 'state', label: 'How it stands', options: ['held', 'needed', 'not_needed', 'unknown'].map((state) => ({ value: state, label: consentStateWord(state) })), value: values.state ?? null, required: true })}
    <div class="two">${dateField({ name: 'starts_on', label: 'Held from', value: values.starts_on, yearsAhead: 10, hint: 'Its first day; empty if it counts already' })}
    ${dateField({ name: 'until', label: 'Held until', value: values.until, hint: 'The last day it counts; empty if it has no end' })}</div>
    ${textField({ name: 'reference', label: 'Reference', value: values.reference, maxLength: NAME_LENGTH, hint: 'Number or name on the paper' })}
    ${textField({ name: 'authority', label: 'Who gives it', value: values.authority, maxLength: NAME_LENGTH, hint: 'The authority, or the person there' })}
    ${textField({ name: 'phone', label: 'Their telephone', value: values.phone, maxLength: NAME_LENGTH, type: 'tel', inputmode: 'tel' })}
    ${noteField({ name: 'note', label: 'Note', value: values.note })}`;
}

/** What does not fit together in a consent: {field, sentence}, or null. */
export function faultOfConsent(values) {
  if (values.kind === 'other' && !values.name) return { field: 'name', sentence: 'What it is called is needed, so that it can be asked for by its name.' };
  if (values.starts_on && values.until && values.until < values.starts_on) return { field: 'until', sentence: 'The last day lies before the first. Set one of them again.' };
  return null;
}
