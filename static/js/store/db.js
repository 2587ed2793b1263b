/**
 * The phone's database: opened once, opened again once when the system lost it, written only by strict transactions.
 *
 * Inside a transaction nothing else is awaited than its own requests: a foreign wait would end it half done.
 */

const NAME = 'fellside';
const SCHEMA = 1;
const LOCK = 'fellside-store';

/**
 * Steps from one schema to the next; they only ever add. Never change one that has been out.
 *   ops          every change known: {dev, seq, rec, op, suspect, unread}
 *   records      the merged records, made from ops
 *   conflicts    {id} of the records in dispute, so that counting them reads no record
 *   meta         {key, value}: writer, seq, clock, identity, sync, and what screens keep
 *   photos       {sha256, bytes, type}: originals, read by key only; photo_facts says what of them home has
 *   held         changes that could not be applied, with the reason
 *   set_aside    changes that had to be written anew under another device's name, as they first were
 */
const STEPS = [
  (db) => {
    const ops = db.createObjectStore('ops', { keyPath: ['dev', 'seq'] });
    ops.createIndex('rec', 'rec');
    db.createObjectStore('records', { keyPath: 'id' }).createIndex('type', 'type');
    db.createObjectStore('conflicts', { keyPath: 'id' });
    db.createObjectStore('meta', { keyPath: 'key' });
    db.createObjectStore('photos', { keyPath: 'sha256' });
    db.createObjectStore('photo_facts', { keyPath: 'sha256' });
    db.createObjectStore('thumbs', { keyPath: 'sha256' });
    db.createObjectStore('packs', { keyPath: 'hash' });
    db.createObjectStore('drafts', { keyPath: 'key' });
    db.createObjectStore('held', { keyPath: ['dev', 'seq'] });
    db.createObjectStore('set_aside', { keyPath: ['dev', 'seq'] });
  },
];

const SENTENCES = {
  update: 'This window is older than what is kept on this phone. Close it and open Fellside again to get the new version.',
  blocked: 'Another window of Fellside holds the store. Close the other window.',
  full: 'This phone is full, so this could not be saved. Make room, then save again; what you typed is still here.',
  lost: 'The store of this phone did not answer. Try again; if it stays so, close Fellside and open it again.',
  'no-store': 'This browser window keeps nothing (a private window?). Open Fellside in a normal window.',
};

/** What went wrong with the phone's store, in a sentence for its owner. */
export class StoreError extends Error {
  /** @param {string} code update, blocked, full, lost, no-store, bad-change @param {string} [text] @param {any} [cause] */
  constructor(code, text = SENTENCES[code], cause = undefined) {
    super(text, { cause });
    this.name = 'StoreError';
    this.code = code;
  }
}

const LOST_NAMES = new Set(['InvalidStateError', 'UnknownError', 'TimeoutError', 'NotReadableError']);
let opening = null; // promise of the open database
let stale = false; // a newer page asked for the store: this one may not open it again

function translate(error) {
  if (error instanceof StoreError) return error;
  if (error?.name === 'QuotaExceededError') return new StoreError('full', undefined, error);
  if (error?.name === 'VersionError') return new StoreError('update', undefined, error);
  if (LOST_NAMES.has(error?.name) || error?.name === 'AbortError') return new StoreError('lost', undefined, error);
  return error;
}

function openOnce() {
  return new Promise((resolve, reject) => {
    if (!globalThis.indexedDB) {
      reject(new StoreError('no-store'));
      return;
    }
    const request = indexedDB.open(NAME, SCHEMA);
    let waited = null;
    request.onupgradeneeded = (ev) => {
      for (const step of STEPS.slice(ev.oldVersion, SCHEMA)) step(request.result, request.transaction);
    };
    // The other window gets the time to close by itself; then it is said.
    request.onblocked = () => {
      waited = setTimeout(() => reject(new StoreError('blocked')), 5000);
    };
    request.onerror = () => {
      clearTimeout(waited);
      reject(translate(request.error));
    };
    request.onsuccess = () => {
      clearTimeout(waited);
      const db = request.result;
      db.onversionchange = () => {
        stale = true;
        opening = null;
        db.close();
      };
      db.onclose = () => {
        opening = null;
      };
      resolve(db);
    };
  });
}

/**
 * Open the store, or give the open one. Two windows never migrate at once.
 * @returns {Promise<IDBDatabase>}
 */
export function openStore() {
  if (stale) return Promise.reject(new StoreError('update'));
  if (!opening) {
    const mine = navigator.locks ? navigator.locks.request(LOCK, openOnce) : openOnce();
    opening = mine;
    mine.catch(() => {
      if (opening === mine) opening = null;
    });
  }
  return opening;
}

/**
 * Turn a request into a promise. Only for use inside the `work` of `read` and `write`.
 * @param {IDBRequest} request
 * @returns {Promise<any>}
 */
export function ask(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function runIn(db, stores, mode, work) {
  return new Promise((resolve, reject) => {
    const tx = db.transaction(stores, mode, mode === 'readwrite' ? { durability: 'strict' } : undefined);
    let result;
    let fault = null;
    // A request's own success is not enough: only `complete` says that all of it is written.
    tx.oncomplete = () => resolve(result);
    tx.onabort = () => reject(fault ?? tx.error ?? new DOMException('The store went away.', 'AbortError'));
    work(tx).then(
      (got) => {
        result = got;
      },
      (error) => {
        fault = tx.error ?? error;
        try {
          tx.abort();
        } catch {
          reject(fault); // it had already ended; what ended it is the fault told
        }
      },
    );
  });
}

async function run(stores, mode, work) {
  for (let left = 1; ; left -= 1) {
    const mine = openStore();
    try {
      return await runIn(await mine, stores, mode, work);
    } catch (error) {
      const plain = translate(error);
      if (plain.code !== 'lost' || left === 0) throw plain;
      // Phones lose the connection while the app is in the background: open once more, do the same once more.
      mine.then((db) => db.close(), () => {});
      if (opening === mine) opening = null;
    }
  }
}

/**
 * Read in one transaction.
 * @param {string[]} stores
 * @param {(tx: IDBTransaction) => Promise<any>} work awaits nothing but `ask`
 */
export function read(stores, work) {
  return run(stores, 'readonly', work);
}

/**
 * Write in one strict transaction; resolves only after it is completely written. May run `work` twice.
 * @param {string[]} stores
 * @param {(tx: IDBTransaction) => Promise<any>} work awaits nothing but `ask`
 */
export function write(stores, work) {
  return run(stores, 'readwrite', work);
}

/** Read one row by its key. @returns {Promise<object|null>} */
export function readRow(store, key) {
  return read([store], async (tx) => (await ask(tx.objectStore(store).get(key))) ?? null);
}
