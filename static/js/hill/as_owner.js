/** What only the owner may do: asked for, the passphrase asked when home wants it, then gone on with. */

import { askHomeJson, HomeError } from '../store/home.js';
import { ask } from '../ui/dialog.js';
import { textField } from '../ui/form.js';
import { html } from '../ui/html.js';
import { here } from '../ui/words.js';

const WAIT_MS = 20_000; // home takes its time over a passphrase, and does so one by one
const MOST_LENGTH = 1024;

/** A field for a passphrase. @param {{name: string, label: string, isNew?: boolean, hint?: string}} field */
export function passphraseField({ name, label, isNew = false, hint = null }) {
  return textField({ name, label, hint, type: 'password', required: true, autocomplete: isNew ? 'new-password' : 'current-password', maxLength: MOST_LENGTH });
}

/**
 * Ask in a dialog until home agrees or the person gives up.
 * @param {{title: string, text: string, fields: any, yes: string}} question
 * @param {(values: object) => Promise<any>} send throws HomeError with the sentence to show
 * @returns {Promise<boolean>} whether it was done
 */
async function askUntilDone({ title, text, fields, yes }, send) {
  const sendInWords = async (values) => {
    try {
      await send(values);
      return null;
    } catch (trouble) {
      if (!(trouble instanceof HomeError)) throw trouble;
      return trouble.code === 'away' ? 'Home is not in reach. This can only be done where it is.' : trouble.message;
    }
  };
  return (await ask({ title, text, fields, yes, send: sendInWords, busy: 'Asking home …' })) !== null;
}

const post = (path, json) => askHomeJson(path, { json, waitMs: WAIT_MS });

/** Sign the owner in on this phone. @returns {Promise<boolean>} false when it was given up */
export function signIn() {
  const text = `Only the owner can do that. You stay signed in on this ${here()} until half an hour after the last such act.`;
  const fields = passphraseField({ name: 'passphrase', label: 'Passphrase' });
  return askUntilDone({ title: 'The owner’s passphrase', text, fields, yes: 'Sign in' }, (values) => post('/api/sign-in', values));
}

/** End the sign-in on this phone. */
export function signOut() {
  return post('/api/sign-out', {});
}

function sameTwice({ passphrase, again }) {
  if (passphrase !== again) throw new HomeError('not-same', { text: 'The two are not the same. Type both once more.' });
}

/** Set the first passphrase, or another in place of the old one. @param {boolean} isSet @returns {Promise<boolean>} */
export function setPassphrase(isSet) {
  const fields = html`${isSet && passphraseField({ name: 'old', label: 'The old one' })}
    ${passphraseField({ name: 'passphrase', label: 'New passphrase', isNew: true, hint: 'At least ten characters: a few words that do not belong together' })}
    ${passphraseField({ name: 'again', label: 'The same once more', isNew: true })}`;
  const text = 'Write it down and keep it at home. If it is lost, it can be set anew at the server itself, and nowhere else.';
  return askUntilDone({ title: isSet ? 'Change the passphrase' : 'Set a passphrase', text, fields, yes: 'Set it' }, async (values) => {
    sameTwice(values);
    if (isSet) await post('/api/sign-in', { passphrase: values.old });
    await post('/api/passphrase', { passphrase: values.passphrase, ...(isSet ? { old: values.old } : {}) });
  });
}

/**
 * Do what only the owner may do; where home asks for the owner, sign in and go on.
 * @param {() => Promise<any>} act asks home
 * @returns {Promise<{done: any}|null>} what the act gave; null when signing in was given up
 * @throws {HomeError} of the act
 */
export async function asOwner(act) {
  try {
    return { done: await act() };
  } catch (trouble) {
    if (trouble.code !== 'owner-only') throw trouble;
  }
  return (await signIn()) ? { done: await act() } : null;
}
