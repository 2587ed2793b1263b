/**
 * What photos take of this phone's room, and letting go of full pictures that home keeps twice: whole there, and in a good
 * backup too. Small pictures stay for the lists; papers stay, for they are read at the gate; unsent work is never touched.
 */

import { ask, read, write } from './db.js';
import { announce } from './listen.js';

const PAPERS = [['paper', 'sha256'], ['leave', 'paper'], ['signing', 'paper']];
const SAMPLE = 40; // small pictures whose length is looked at; reading them all would take long

const sum = (facts) => ({ count: facts.length, bytes: facts.reduce((total, fact) => total + fact.size, 0) });

/** The hashes of papers that leaves and consents rest on. */
async function papersIn(tx) {
  const index = tx.objectStore('records').index('type');
  const rows = await Promise.all(PAPERS.map(([type]) => ask(index.getAll(type))));
  return new Set(rows.flatMap((some, i) => some.map((record) => record.fields[PAPERS[i][1]])));
}

/** Under which life of home something was said: after one was put back from a backup, what it said before holds no longer. */
async function lifeIn(tx) {
  return String((await ask(tx.objectStore('meta').get('sync')))?.value?.epoch);
}

/** Photos kept here that may go, the oldest first. */
async function spareIn(tx) {
  const papers = await papersIn(tx);
  const life = await lifeIn(tx);
  const facts = await ask(tx.objectStore('photo_facts').getAll());
  return facts.filter((fact) => fact.home && fact.twice === life && !papers.has(fact.sha256))
    .sort((a, b) => (a.kept_at < b.kept_at ? -1 : 1));
}

/**
 * What is kept of photos here.
 * @returns {Promise<{all: object, unsent: object, spare: object, small: object}>} each {count, bytes}; spare: full pictures
 *   that may go; small: the small pictures, their bytes about
 */
export function photoSums() {
  return read(['photo_facts', 'records', 'thumbs', 'meta'], async (tx) => {
    const facts = await ask(tx.objectStore('photo_facts').getAll());
    const thumbs = tx.objectStore('thumbs');
    const number = await ask(thumbs.count());
    const some = await ask(thumbs.getAll(null, SAMPLE));
    const usual = some.length === 0 ? 0 : some.reduce((total, row) => total + row.bytes.byteLength, 0) / some.length;
    return {
      all: sum(facts),
      unsent: sum(facts.filter((fact) => !fact.home)),
      spare: sum(await spareIn(tx)),
      small: { count: number, bytes: Math.round(number * usual) },
    };
  });
}

/** How large the photos kept here are. @returns {Promise<number[]>} bytes of each */
export async function photoSizes() {
  return (await read(['photo_facts'], (tx) => ask(tx.objectStore('photo_facts').getAll()))).map((fact) => fact.size);
}

/** The photos home has of which it is not known yet whether a backup has them too. @returns {Promise<string[]>} hashes */
export function perhapsTwice() {
  return read(['photo_facts', 'meta'], async (tx) => {
    const life = await lifeIn(tx);
    const facts = await ask(tx.objectStore('photo_facts').getAll());
    return facts.filter((fact) => fact.home && fact.twice !== life).map((fact) => fact.sha256);
  });
}

/** Note what home said it keeps twice. @param {string[]} hashes */
export async function markTwice(hashes) {
  await write(['photo_facts', 'meta'], async (tx) => {
    const life = await lifeIn(tx);
    const store = tx.objectStore('photo_facts');
    for (const sha256 of hashes) {
      const fact = await ask(store.get(sha256));
      if (fact?.home) await ask(store.put({ ...fact, twice: life }));
    }
  });
  if (hashes.length > 0) announce({ types: [] });
}

/**
 * Let full pictures go that home keeps twice, the oldest first.
 * @param {number} [wanted] bytes that are to become free; without it all of them go
 * @returns {Promise<{count: number, bytes: number}>} what went
 */
export async function dropSpare(wanted = Infinity) {
  const gone = await write(['photo_facts', 'photos', 'records', 'meta'], async (tx) => {
    const dropped = [];
    let bytes = 0;
    for (const fact of await spareIn(tx)) {
      if (bytes >= wanted) break;
      await ask(tx.objectStore('photos').delete(fact.sha256));
      await ask(tx.objectStore('photo_facts').delete(fact.sha256));
      dropped.push(fact);
      bytes += fact.size;
    }
    return dropped;
  });
  if (gone.length > 0) announce({ types: [] });
  return sum(gone);
}
