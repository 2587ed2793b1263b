/** What stands on the screen Sign: before the phone is handed over, and in the landholder's hands. Markup only. */

import { ROLES, showDate } from '../ui/words.js';
import { chips, fileField, textField, NAME_LENGTH } from '../ui/form.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { goneLine } from '../ui/leave_entry.js';
import { letterMarkup, sketchMarkup } from '../ui/letter.js';

export const NO_HASH = 'Signing needs the secure address (https) of home: by this address the browser cannot lock what was signed. Everything filled in is kept; open the other address to sign, or have the letter signed on paper.';
const MENDS = {
  collector: { word: 'Write down who you are', href: ({ leave }) => `#/papers?leave=${leave.id}` },
  landholder: { word: 'Write down who they are', href: ({ leave }) => `#/landholder/${leave.fields.landholder}` },
  leave: { word: 'Change the leave', href: ({ leave }) => `#/leave/${leave.id}` },
  site: { word: 'Draw the boundary', href: ({ site }) => `#/site/${site.id}` },
};
export const SIZES = 5; // of the letters, as css/signing.css has them

function lackingPart(known) {
  if (known.lacks.length === 0) return html`<p class="state good">${icon('yes')}Nothing is left open in the letter.</p>`;
  const groups = Object.keys(MENDS).map((where) => [where, known.lacks.filter((one) => one.where === where)]).filter(([, lacks]) => lacks.length > 0);
  return html`<p>Where a line is left open, nothing is agreed on that point. Fill in what you can now; the landholder sees it as open.</p>
    ${groups.map(([where, lacks]) => html`<div class="stack"><ul class="plain-list">${lacks.map(({ text }) => html`<li>${text}</li>`)}</ul>
      <a class="button hill" href="${MENDS[where].href(known)}">${icon('edit')}${MENDS[where].word}</a></div>`)}`;
}

/** What stands against the word of the one who signs, and where to mend it. */
function doubtsPart({ doubts, lacks, leave, site }) {
  if (doubts.length === 0) return null;
  return html`<div class="stack signer-doubts">${doubts.map((text) => html`<p class="state ask">${icon('ask')}<span>${text}</span></p>`)}
    <div class="pick-row">${!lacks.some(({ where }) => where === 'leave') && html`<a class="button hill" href="#/leave/${leave.id}">${icon('edit')}Change the leave</a>`}<a class="button hill" href="#/site/${site.id}">${icon('landholder')}Who has a say here</a></div></div>`;
}

/** Why a signature would not help, in words; null where it would. @param {object} leave fields @param {string} today */
export function warningOf(leave, today) {
  if (leave.withdrawn_on && leave.withdrawn_on <= today) return `This leave was withdrawn on ${showDate(leave.withdrawn_on)}. A signature does not bring it back: the landholder would have to give a new one.`;
  if (leave.ends_on && leave.ends_on < today) return `This leave ended on ${showDate(leave.ends_on)}. A signature does not make it longer: set on its last day, or renew it.`;
  return null;
}

function versionsPart(signings) {
  if (signings.length === 0) return null;
  const [{ record, differs, intact }] = signings;
  const { fields } = record;
  const same = intact && differs.length === 0 ? ' Nothing was changed since; there is no need to sign again.' : '';
  return html`<p>Version ${fields.version} was signed by ${fields.name ?? 'a name not told'} on ${showDate(fields.signed_on)}.${same} What is signed now becomes a new version; that one stays readable.</p>`;
}

/** Before the phone is handed over. */
export function checkPage(known, { signings, today, canSign }) {
  const { leave, site, facts } = known;
  const warning = warningOf(leave.fields, today);
  const heed = warning || known.removed;
  return html`<div class="page sign-check"><div class="page-head"><a class="back" href="#/leave/${leave.id}">${icon('back')}The leave</a>
      <h1>Sign at the gate</h1><p class="under">${facts.landholder?.name ?? (known.removed ? `${known.removed.fields.name ?? 'A landholder'}, removed` : 'A landholder not told')}, ${site.fields.name ?? 'a site without a name'}</p></div>
    ${warning && html`<p class="caution bad">${icon('no')}<span>${warning}</span></p>`}
    ${!canSign && html`<p class="caution">${icon('warn')}<span>${NO_HASH}</span></p>`}
    ${known.removed && goneLine(known.removed)}
    <section class="sheet"><h2>Before you hand it over</h2>${doubtsPart(known)}${lackingPart(known)}${versionsPart(signings)}</section>
    <section class="sheet"><h2>Then</h2><ol class="numbered"><li>Hand over the phone. The landholder reads the letter in large type.</li>
      <li>They write their name and sign on the glass with a finger.</li><li>It is kept on this phone and locked. Home makes the paper of it.</li></ol></section>
    <div class="actions stuck"><button type="button" class="button hill ${heed ? 'rust' : 'primary'}" data-hand-over>${icon('hand')}${heed ? 'Hand it over all the same' : 'Hand it over'}</button></div></div>`;
}

/** The place of the sketch in words. */
function sketchWords({ facts, leave, site }) {
  const what = leave.fields.area ? `the part of ${site.fields.name ?? 'the site'} that is meant` : `the whole of ${site.fields.name ?? 'the site'}`;
  return [what, facts.site.grid_ref && `its middle at ${facts.site.grid_ref}`].filter(Boolean).join(', ');
}

/** The paper signed beside it. */
export function paperPart(paper, url) {
  return html`<p class="strong">Is there a paper as well?</p>
    ${url ? html`<img class="paper" src="${url}" alt="The paper, photographed">` : paper && html`<p class="muted">Kept; the picture cannot be shown here.</p>`}
    <div class="pick-row">${fileField({ name: 'take', label: paper ? 'Take it again' : 'Photograph it', capture: true })}
      ${fileField({ name: 'choose', label: 'Choose a picture', iconName: 'photo' })}
      ${paper && html`<button type="button" class="button rust" data-drop-paper>${icon('bin')}Leave it out</button>`}</div>
    <p class="fault" role="alert" data-paper-fault hidden></p>`;
}

/** In the landholder's hands: the letter, and at its end the glass. */
export function letterPage(known, letter, { size, values, today }) {
  const { outline } = known;
  return html`<div class="page signing"><div class="signing-bar"><button type="button" class="button hill" data-back>${icon('back')}Back</button>
      <span class="row"><button type="button" class="button hill" data-size="-1" aria-label="Smaller letters" ${size === 0 ? html`disabled` : ''}><span aria-hidden="true">A–</span></button>
        <button type="button" class="button hill" data-size="1" aria-label="Larger letters" ${size === SIZES - 1 ? html`disabled` : ''}><span aria-hidden="true">A+</span></button></span></div>
    <h1 class="unseen">The letter, to read and sign</h1>
    <p class="caution changed-meanwhile" role="alert" hidden>${icon('warn')}<span>The leave was changed on another phone meanwhile. This is the letter as it is now: read it again, then sign.</span></p>
    <article class="letter letter-size-${size}" data-letter>${letterMarkup(letter)}${sketchMarkup(outline, sketchWords(known))}</article>
    <form class="sheet sign-form" novalidate data-form><h2>Signed</h2>
      ${textField({ name: 'name', label: 'Your name', value: values.name, required: true, maxLength: NAME_LENGTH, autocomplete: 'off' })}
      ${chips({ name: 'role', label: 'You sign as', options: ROLES.map((role) => ({ value: role, label: role })), value: values.role, required: true })}
      ${textField({ name: 'place', label: 'Place', value: values.place, maxLength: NAME_LENGTH, hint: 'As: at the farm gate. May be left empty.' })}
      <div><p>Date: <strong>${showDate(today)}</strong></p><p>Position: <strong data-position>not noted</strong></p></div>
      <div class="field" role="group" aria-labelledby="glass-label"><p class="strong" id="glass-label">Your signature</p>
        <div data-glass-place></div><p class="typed-note" data-typed-note hidden></p>
        <p class="fault" role="alert" data-glass-fault hidden></p>
        <button type="button" class="button quiet" data-typed>Type the name instead of drawing it</button></div>
      <div class="field" data-paper></div>
      <p class="fault" role="alert" data-save-fault hidden></p>
      <div class="actions"><button class="button hill primary" data-sign>${icon('sign')}Sign</button></div>
      <p class="hint">You can withdraw this leave at any time. Local law, and what you say on the day, stand above this letter.</p>
    </form></div>`;
}
