/** The forms of a site, its landholders and its consents: fields only, each screen saves them itself. */

import { NAME_LENGTH, chips, dateField, noteField, numberField, textField } from './form.js';
import { html } from './html.js';
import { CONSENT_KINDS, consentStateWord, consentWord } from './words.js';

export const YES_NO_UNKNOWN = [
  { value: true, label: 'yes' },
  { value: false, label: 'no' },
  { value: null, label: 'not known' },
];

const ROLES = ['owner', 'occupier', 'agent'];

/** @param {object} values fields of a site, or a draft of them */
export function siteFields(values) {
  return html`
    ${textField({ name: 'name', label: 'Name of the site', value: values.name, required: true, maxLength: NAME_LENGTH, hint: 'As you and the landholder call it' })}
    ${chips({ name: 'protected', label: 'Is it protected ground?', options: YES_NO_UNKNOWN, value: values.protected ?? null, hint: 'A reserve, a site of scientific interest or the like. Ask the authority if you are not sure.' })}
    ${dateField({ name: 'services_checked_on', label: 'Buried services checked on', value: values.services_checked_on, today: true, past: true, hint: 'Pipes and cables, before any machine or deep digging' })}
    ${numberField({ name: 'height_m', label: 'Height above the sea', unit: 'm', value: values.height_m, step: 10, start: 200, min: -450, max: 9000, whole: false })}
    ${textField({ name: 'zone', label: 'Time zone', value: values.zone, maxLength: NAME_LENGTH, hint: 'As Europe/London. Days of a leave begin and end by it.' })}
    ${noteField({ name: 'note', label: 'Note', value: values.note, hint: 'Gate, parking, who to ring first' })}`;
}

/** @param {object} values fields of a landholder, or a draft of them */
export function landholderFields(values) {
  return html`
    ${textField({ name: 'name', label: 'Name', value: values.name, required: true, maxLength: NAME_LENGTH })}
    ${chips({ name: 'role', label: 'What they are to the ground', options: [...ROLES.map((role) => ({ value: role, label: role })), { value: null, label: 'not known' }], value: values.role ?? null })}
    ${textField({ name: 'phone', label: 'Telephone', value: values.phone, maxLength: NAME_LENGTH, type: 'tel', inputmode: 'tel' })}
    ${textField({ name: 'email', label: 'E-mail', value: values.email, maxLength: NAME_LENGTH, type: 'email', inputmode: 'email' })}
    ${noteField({ name: 'address', label: 'Address', value: values.address })}
    ${noteField({ name: 'note', label: 'Note', value: values.note })}`;
}

/** @param {object} values fields of a consent, or a draft of them */
export function consentFields(values) {
  return html`
    ${chips({ name: 'kind', label: 'Which consent', options: CONSENT_KINDS.map((kind) => ({ value: kind, label: consentWord(kind) })), value: values.kind ?? null, required: true })}
    ${chips({ name: 'state', label: 'How it stands', options: ['held', 'needed', 'not_needed', 'unknown'].map((state) => ({ value: state, label: consentStateWord(state) })), value: values.state ?? null, required: true })}
    ${dateField({ name: 'until', label: 'Held until', value: values.until, hint: 'The last day it counts; leave empty if it has no end' })}
    ${textField({ name: 'reference', label: 'Reference', value: values.reference, maxLength: NAME_LENGTH, hint: 'Number or name on the paper' })}
    ${noteField({ name: 'note', label: 'Note', value: values.note })}`;
}
