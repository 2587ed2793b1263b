/**
 * What this phone keeps, in the words of the trade. The database itself is in store/db.js and nowhere else.
 *
 * Records come merged: {id, type, fields, stamps, conflicts, deleted}.
 */

export { openStore, StoreError } from './store/db.js';
export { allGround, groundRecords, groundSince } from './store/ground.js';
export { onStoreChange } from './store/listen.js';
export { newId } from './store/ids.js';
export {
  applyAnswer, changesToSend, deviceId, keepRole, knownVector, renameUnsent, startAfresh, syncPlace, takeNewName, takeToken, tokenToTake,
} from './store/journal.js';
export {
  askAboutPhoto, getOwnBytes, getOwnSmall, getPhoto, getThumb, isKeptHere, keepOfHome, markAtHome, markSmallSent, photosToSend, smallToSend,
} from './store/photos.js';
export {
  changesOf, counts, draftKeys, dropDraft, getDraft, getIdentity, getMeta, getPack, getRecord, listConflicts, listDeleted, listHeld, listRecords,
  packHash, packHead, packIsCurrent, photosInForms, putPack, recordsWhere, saveDraft, setIdentity, setMeta,
} from './store/read.js';
export { saveChange, saveChanges } from './store/save.js';
