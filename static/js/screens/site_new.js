/** The form for a site that is not there yet; and how the facts of a site are read from their form. */

import { changedOnly } from '../core/changed.js';
import { ownZone } from '../hill/ground_facts.js';
import { dropDraft, getDraft, saveChange, saveDraft } from '../store.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { siteFields } from '../ui/site_forms.js';
import { here } from '../ui/words.js';

function zoneIsKnown(zone) {
  try {
    return Boolean(new Intl.DateTimeFormat('en', { timeZone: zone }));
  } catch {
    return false;
  }
}

/** Read the facts of a site from their form; a fault is shown at its field and throws. */
export function readFacts(form) {
  const values = readForm(form);
  if (values.zone && !zoneIsKnown(values.zone)) {
    const sentence = `“${values.zone}” is not a time zone this ${here()} knows. Write one as Europe/London, or leave it empty.`;
    showFault(form, 'zone', sentence);
    throw new FormFault('zone', sentence);
  }
  return values;
}

/**
 * Open the form.
 * @param {Element} root
 * @returns {Promise<() => void>} close
 */
export async function openNew(root) {
  const key = 'site-new';
  const draft = (await getDraft(key)) ?? { zone: ownZone() };
  render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/ground">${icon('back')}Ground</a><h1>A new site</h1>
      <p class="under">The ground one leave is about. Its boundary comes next.</p></div>
    <form class="sheet" novalidate data-form>${siteFields(draft)}<div class="actions"><button class="button primary">Save the site</button>
      <a class="button quiet" href="#/ground">Not now</a></div></form></div>`);
  const stops = [
    on(root, 'input', '[data-form]', (ev, form) => saveDraft(key, readDraft(form))),
    on(root, 'submit', '[data-form]', async (ev, form) => {
      ev.preventDefault();
      try {
        const id = await saveChange({ type: 'site', set: changedOnly({}, readFacts(form)) });
        await dropDraft(key);
        notice('Saved on this phone. Now draw its boundary.');
        globalThis.location.hash = `#/site/${id}`;
      } catch (fault) {
        if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
      }
    }),
  ];
  return () => stops.forEach((stop) => stop());
}
