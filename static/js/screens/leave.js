/** Leave: one landholder's permission for a site; read on its page, written and changed in its form. */

import { getDraft } from '../store.js';
import { leaveKey, openEdit } from './leave_edit.js';
import { openView } from './leave_view.js';

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, site?: string, renews?: string}} params id of a leave or 'new'; site: whose ground a new one is for;
 *   renews: the leave that a new one follows
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  let close = () => {};
  let closed = false;

  async function show(opening) {
    close();
    close = () => {};
    const next = await opening();
    if (closed) next();
    else close = next;
  }

  /** From one to the other a person arrives as on a new page: at its head. */
  async function arrive(opening) {
    globalThis.scrollTo(0, 0); // what is drawn first is seen at once, not when the whole page is there
    await show(opening);
    const head = closed ? null : root.querySelector('h1');
    head?.setAttribute('tabindex', '-1');
    head?.focus({ preventScroll: true });
    globalThis.scrollTo(0, 0);
  }

  const openPage = () => openView(root, params.id, { change: () => arrive(openForm), reopen: () => show(openPage) });
  const openForm = () => openEdit(root, params, { done: () => arrive(openPage) });

  await show(params.id === 'new' || (await getDraft(leaveKey(params))) ? openForm : openPage);
  return () => {
    closed = true;
    close();
  };
}
