/**
 * The exchange of changes with home, by what each side has: whatever home lacks is sent, whatever is new there is taken
 * in. A lost answer, a cut line, a server put back from a backup and a copied phone are all the same case.
 */

import { readHomeTold } from '../core/home_told.js';
import {
  applyAnswer, changesToSend, deviceId, getIdentity, keepRole, knownVector, packHash, putPack, renameUnsent, setMeta, startAfresh, syncPlace,
} from '../store.js';
import { appVersion } from '../store/app_version.js';
import { askHomeBytes, askHomeJson, HomeError } from '../store/home.js';

const PROTOS = [1];
const BATCH = 200;
const WANT = 500;
const HELLO_WAIT_MS = 3000;
const SYNC_WAIT_MS = 60_000;
const PACK_WAIT_MS = 60_000;
const MOST_FORKS = 2;
const TOO_OLD = 'This version is too old for home. Bring Fellside up to date; everything is kept on this phone.';

/**
 * Ask whether home is there. Anything else that answers (a sign-in page, another machine) is not home.
 * @returns {Promise<{epoch: string, proto: number, offset_s: number, home: object|null}>} offset_s: this phone's clock
 *   ahead of home's; home: of `readHomeTold`
 * @throws {HomeError} away, not-home, too-old
 */
export async function hello() {
  const before = Date.now();
  const said = await askHomeJson('/api/hello', { waitMs: HELLO_WAIT_MS, open: true });
  const middle = (before + Date.now()) / 2;
  if (said?.app !== 'fellside' || typeof said.epoch !== 'string' || !Array.isArray(said.proto)) throw new HomeError('not-home');
  const proto = Math.max(...PROTOS.filter((one) => said.proto.includes(one)));
  if (!Number.isFinite(proto)) throw new HomeError('too-old', { text: TOO_OLD, status: 426 });
  const now = Date.parse(said.now);
  return { epoch: said.epoch, proto, offset_s: Number.isFinite(now) ? Math.round((middle - now) / 1000) : 0, home: readHomeTold(said.home) };
}

function checked(answer) {
  const good =
    typeof answer?.epoch === 'string' && Number.isInteger(answer.cursor) && Array.isArray(answer.ops) &&
    answer.have !== null && typeof answer.have === 'object';
  if (!good) throw new HomeError('not-home');
  return answer;
}

async function ask(proto, ops, want) {
  const [device, place, have, identity, app] = await Promise.all([deviceId(), syncPlace(), knownVector(), getIdentity(), appVersion()]);
  const { epoch, cursor } = place;
  const json = { proto, device, epoch, cursor, have, ops, want, app };
  const answer = checked(await askHomeJson('/api/sync', { json, waitMs: SYNC_WAIT_MS }));
  await keepRole(answer.role, identity?.token); // told with each answer: it may have been changed at home
  return { place, answer };
}

function highest(have, sent) {
  const both = { ...have };
  for (const [dev, seq] of Object.entries(sent)) both[dev] = Math.max(seq, both[dev] ?? 0);
  return both;
}

/**
 * Exchange changes until nothing is left on either side. The first question carries no changes: its answer tells what
 * home has, and only that decides what is sent.
 * @param {number} proto
 * @param {(phase: string) => any} onPhase
 * @returns {Promise<{sent: number, fresh: number}>}
 * @throws {HomeError}
 */
export async function exchange(proto, onPhase = () => {}) {
  let have = null;
  let sent = {};
  let more = true;
  let forks = 0;
  let sentCount = 0;
  let fresh = 0;
  for (;;) {
    // After a fork everything is looked at first, so that what is really ours is known before it is sent.
    const ops = have === null || (forks > 0 && more) ? [] : await changesToSend(highest(have, sent), BATCH);
    if (have !== null && ops.length === 0 && !more) return { sent: sentCount, fresh };
    onPhase(ops.length > 0 ? 'sending' : 'asking');
    let got;
    try {
      got = await ask(proto, ops, WANT);
    } catch (fault) {
      if (fault.code === 'too-old') return pushOnly(proto, onPhase);
      if (fault.code !== 'device-fork' || forks === MOST_FORKS) throw fault;
      forks += 1;
      if (forks === 1) await startAfresh();
      else await renameUnsent((await syncPlace()).have);
      have = null;
      sent = {};
      more = true;
      continue;
    }
    const { answer, place } = got;
    const done = await applyAnswer(answer);
    fresh += done.fresh;
    sentCount += ops.length;
    if (done.new_epoch) sent = {};
    for (const { dev, seq } of ops) sent[dev] = Math.max(seq, sent[dev] ?? 0);
    have = answer.have;
    more = answer.more === true;
    if (more && !done.new_epoch && answer.cursor === place.cursor) {
      throw new HomeError('server-fault', { text: 'Home says there is more and does not give it. It is tried again later.' });
    }
  }
}

/** Too old to understand home's changes; what was written here can still go there. */
async function pushOnly(proto, onPhase) {
  let { have } = await syncPlace();
  for (;;) {
    const ops = await changesToSend(have, BATCH);
    if (ops.length === 0) throw new HomeError('too-old', { text: TOO_OLD, status: 426 });
    onPhase('sending');
    const { answer } = await ask(proto, ops, 0);
    await applyAnswer(answer);
    have = highest(answer.have, Object.fromEntries(ops.map(({ dev, seq }) => [dev, seq])));
  }
}

async function sha256Hex(bytes) {
  const digest = await crypto.subtle.digest('SHA-256', bytes);
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/**
 * Fetch the pack home last told of, if it is not here yet.
 * @returns {Promise<boolean>} whether a new one was kept
 * @throws {HomeError}
 */
export async function fetchPack() {
  const { pack: wanted } = await syncPlace();
  if (wanted === null || wanted === (await packHash())) return false;
  const { bytes } = await askHomeBytes(`/api/pack/${wanted}`, { waitMs: PACK_WAIT_MS });
  if (globalThis.crypto?.subtle && (await sha256Hex(bytes)) !== wanted) {
    throw new HomeError('pack-damaged', { text: 'What home planned arrived damaged. It is fetched again; the last good plan is kept.' });
  }
  await putPack(wanted, JSON.parse(new TextDecoder().decode(bytes)));
  await setMeta('pack_fetched_at', new Date().toISOString());
  return true;
}
