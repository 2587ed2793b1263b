/**
 * Markup that cannot be broken by what people type.
 *
 * html`<b>${name}</b>` encodes every value; what html`` itself gave is put in as it is, lists are joined, and null,
 * undefined, true and false give nothing (so `${isLate && html`<b>late</b>`}` reads well). Zero is shown: missing is not
 * zero. Always put attribute values in double quotes. The content policy forbids style="..." and onclick="...".
 */

// Marks that turn the direction of what follows, also beyond the name they stand in, are shown by nothing.
const MARKS = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

/** Markup that has gone through html`` and may be nested or rendered. */
class Safe {
  #text;

  constructor(text) {
    this.#text = text;
  }

  toString() {
    return this.#text;
  }
}

function encode(value) {
  if (value instanceof Safe) return value.toString();
  if (Array.isArray(value)) return value.map(encode).join('');
  if (value === null || value === undefined || value === true || value === false) return '';
  return String(value).replace(/[&<>"'\u202a-\u202e\u2066-\u2069]/g, (mark) => MARKS[mark] ?? '');
}

/**
 * Build markup from a template, every value encoded.
 * @returns {Safe} for `render` or for nesting in another html``
 */
export function html(strings, ...values) {
  return new Safe(strings.reduce((text, part, i) => text + encode(values[i - 1]) + part));
}

/** Find what had the focus again after its markup was replaced, so that a fresh list does not lose the keyboard. */
function rememberFocus(root) {
  const held = document.activeElement;
  if (!held || held === root || !root.contains(held)) return () => {};
  const value = held.type === 'radio' || held.type === 'checkbox' ? held.value : null;
  const { id, name, selectionStart, selectionEnd } = held;
  const href = held.getAttribute('href');
  return () => {
    const like = [...root.querySelectorAll(held.tagName)].find(
      (el) =>
        (id && el.id === id) ||
        (name && el.name === name && (value === null || el.value === value)) ||
        (!id && !name && href && el.getAttribute('href') === href),
    );
    if (!like) return;
    like.focus({ preventScroll: true });
    if (typeof selectionStart === 'number' && 'setSelectionRange' in like && like.type !== 'button') {
      like.setSelectionRange(selectionStart, selectionEnd);
    }
  };
}

/**
 * Replace what is inside `root`. The focus stays on the control of the same id or name, where there is one.
 * @param {Element} root
 * @param {Safe} safe what html`` gave; plain text is refused, so that nothing gets in unencoded
 */
export function render(root, safe) {
  if (!(safe instanceof Safe)) throw new TypeError('render takes only what html`` gives');
  const restoreFocus = rememberFocus(root);
  root.innerHTML = safe.toString();
  restoreFocus();
}

/**
 * Listen on `root` for events that start inside an element matching `selector`, also one rendered later.
 * @param {Element} root
 * @param {string} type 'click', 'submit', 'input', 'change' ...
 * @param {string} selector CSS selector
 * @param {(ev: Event, found: Element) => any} handler gets the matching element second
 * @returns {() => void} stops listening; a screen calls it in its close()
 */
export function on(root, type, selector, handler) {
  const listen = (ev) => {
    const found = ev.target instanceof Element ? ev.target.closest(selector) : null;
    if (found && root.contains(found)) return handler(ev, found);
    return undefined;
  };
  root.addEventListener(type, listen);
  return () => root.removeEventListener(type, listen);
}
