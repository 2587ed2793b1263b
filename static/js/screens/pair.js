/** Pair: make this phone one of the house's, with the short code that home shows. */

import { passphraseField } from '../hill/as_owner.js';
import { getIdentity } from '../store.js';
import { homeElsewhere, onSyncState, pair, pairByPassphrase, syncNow } from '../sync.js';
import { FormFault, readForm, showFault, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { pairedWords } from '../ui/phone_words.js';
import { here } from '../ui/words.js';

const SENT_ON = 'fellside-sent-on';

/** A name to start from, by which the phone can be told from others in the list at home. */
function guessName() {
  const agent = navigator.userAgent;
  if (/iPhone/.test(agent)) return 'iPhone';
  if (/iPad/.test(agent)) return 'iPad';
  if (/Android/.test(agent)) return 'Android phone';
  return 'Desk';
}

/** On an iPhone a browser tab and the icon on the home screen keep apart stores: record only in the icon's. */
function isLooseTab() {
  return /iPhone|iPad/.test(navigator.userAgent) && navigator.standalone === false;
}

/** This screen at another address of home. */
function pairAt(address, code) {
  return `${address}/#/pair${code === null ? '' : `/${encodeURIComponent(code)}`}`;
}

/** Go to the address that home chose; only once, for where it is not found one must be able to come back and stay. */
function goOn({ address, can_go: canGo }, code) {
  if (!canGo || sessionStorage.getItem(SENT_ON) !== null) return false;
  sessionStorage.setItem(SENT_ON, address);
  globalThis.location.replace(pairAt(address, code));
  return true;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{code?: string}} params code: from the link that home shows
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const code = params.code ?? null;
  const identity = await getIdentity();
  const isPaired = Boolean(identity?.token);
  let isLetOut = false; // as the last sync heard it
  onSyncState(({ phase }) => { isLetOut = phase === 'unpaired'; })();
  let busy = false;
  let closed = false;
  render(root, html`<div class="page pair"><div class="page-head"><h1>Pair this ${here()}</h1>
      <p class="under">Once, at home. Afterwards everything on the hill works by itself.</p></div>
    ${isPaired && isLetOut && html`<p class="sheet"><span class="state ask">${icon('ask')}Home does not let this ${here()} in any more.</span>
      <span>With a fresh code it is let in anew, and brings everything that it kept.</span></p>`}
    ${isPaired && !isLetOut && html`<p class="sheet"><span class="state good">${icon('yes')}This ${here()} is paired already${identity.name ? html`, as “${identity.name}”` : ''}.</span>
      <span>Pair it again only if home no longer knows it. Nothing kept here is lost by it.</span></p>`}
    ${isLooseTab() && html`<p class="caution">${icon('warn')}<span>First put Fellside on the home screen (Share, then Add to Home Screen), and open it from there. A browser page has a store of its own that the phone may empty after seven days.</span></p>`}
    ${!globalThis.isSecureContext && html`<p class="caution">${icon('warn')}<span>This address is not a trusted one, so the app can neither be installed nor find its position. Open the https address that home shows.</span></p>`}
    <div data-elsewhere></div>
    <form class="sheet" novalidate data-form>
      <div data-proof></div>
      ${textField({ name: 'name', label: `Name of this ${here()}`, value: identity?.name ?? guessName(), required: true, autocomplete: 'off', hint: 'So that you can tell your phones apart' })}
      <div class="actions"><button class="button primary hill">${icon('key')}Pair this ${here()}</button></div>
      <p role="status" data-busy></p>
      <button type="button" class="button quiet" data-other-proof></button>
    </form>
    <section class="sheet"><h2>What this does</h2><ul class="numbered">
      <li>This ${here()} and your server at home get to know each other. Nobody else is asked.</li>
      <li>Sites, leaves, trees and tasks come onto this ${here()}, and are there without any signal.</li>
      <li>What you record on the hill goes home as soon as both see each other again.</li></ul></section></div>`);

  let byPassphrase = false;

  function drawProof() {
    const field = byPassphrase
      ? passphraseField({ name: 'passphrase', label: 'The owner’s passphrase', hint: 'For a desk or phone of the owner: it may do everything then.' })
      : textField({ name: 'code', label: 'Code', value: code, required: true, inputmode: 'text', autocomplete: 'one-time-code', hint: 'For the very first one: the window of the server shows a code when it starts, and fellside pair-code makes another there. Later: House, “Pair a phone”, on one that is paired. A code works once, within ten minutes.' });
    render(root.querySelector('[data-proof]'), field);
    root.querySelector('[data-other-proof]').textContent = byPassphrase ? 'Use a code instead' : 'Use the owner’s passphrase instead';
  }
  drawProof();

  async function submit(ev, form) {
    ev.preventDefault();
    if (busy) return;
    const say = (text) => { root.querySelector('[data-busy]').textContent = text; };
    try {
      const values = readForm(form);
      busy = true;
      say('Asking home …');
      const { role, like = null } = byPassphrase ? await pairByPassphrase(values.passphrase, values.name) : await pair(values.code.trim(), values.name);
      notice(pairedWords(role, like), { stays: like !== null });
      syncNow().catch((fault) => globalThis.reportError?.(fault)); // the quiet line tells how it goes
      globalThis.location.replace('#/ground'); // in place of this address, so that no code stays in the history
    } catch (trouble) {
      say('');
      if (trouble instanceof FormFault) return;
      const cure = trouble.cure ? ` ${trouble.cure}` : '';
      showFault(form, byPassphrase ? 'passphrase' : 'code', `${trouble.message}${cure}`);
    } finally {
      busy = false;
    }
  }

  // A phone keeps its log under the address it was opened at: before there is any, it is led to the right one.
  async function lookElsewhere() {
    const other = isPaired ? null : await homeElsewhere({ ask: true });
    if (closed || other === null || goOn(other, code)) return;
    render(root.querySelector('[data-elsewhere]'), html`<div class="stack"><p class="caution">${icon('warn')}<span>Home wants to be opened at ${other.address}. Pair here only if that address is not found: what you record stays under the address it was recorded at.</span></p>
      <a class="button hill" href="${pairAt(other.address, code)}">${icon('house')}Open it there</a></div>`);
  }
  lookElsewhere().catch((fault) => globalThis.reportError?.(fault));

  const stops = [
    on(root, 'submit', '[data-form]', submit),
    on(root, 'click', '[data-other-proof]', () => {
      byPassphrase = !byPassphrase;
      drawProof();
    }),
  ];
  return () => {
    closed = true;
    stops.forEach((stop) => stop());
  };
}
