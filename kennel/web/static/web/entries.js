// Entries people make on this device: added, taken back, tried again, removed, counted.

import * as store from "./store.js";
import { newUid } from "./uid.js";

const KEPT_AFTER_SENDING_MS = 14 * 86400000;
export const UNSENT = new Set(["waiting", "sending", "attention"]);

// Who is signed in: from the page, or on pages of the shell (which know nobody) from the store.
export async function carerHere() {
  const meta = document.querySelector("meta[name=carer]");
  if (meta) return { uid: meta.content, name: meta.dataset.name };
  if (document.querySelector("meta[name=shell]")) return (await store.fact("carer")) ?? null;
  return null;
}

export function kennelHere() {
  const meta = document.querySelector("meta[name=kennel]");
  return meta && { uid: meta.content, name: meta.dataset.name, zone: meta.dataset.zone };
}

// Stores a new record for sending; resolves when it is on disk.  label: what it is in people's words.
export async function add({ type, data, label, about = {} }) {
  const carer = await carerHere();
  const kennel = kennelHere();
  const entry = {
    uid: newUid(), op: "create", type, data, label, about,
    kennel: kennel.uid, kennel_name: kennel.name, carer: carer.uid, carer_name: carer.name,
    made_at: new Date().toISOString(), state: "waiting", attempts: 0, next_attempt_at: 0,
  };
  await store.put(entry);
  return entry;
}

// Takes an entry back: gone at once while nothing was sent, else deleted on the server by the next sending.
export function takeBack(uid) {
  return store.change(uid, (entry) => {
    const neverLeft = entry.attempts === 0 && entry.state !== "sending";
    if (neverLeft || entry.state === "attention") return { ...entry, state: "withdrawn", sent_at: Date.now() };
    return { ...entry, is_taken_back: true, next_attempt_at: 0 };
  });
}

export function tryAgain(uid) {
  return store.change(uid, (entry) => ({ ...entry, state: "waiting", problem: null, next_attempt_at: 0 }));
}

export function discard(uid) {
  return store.change(uid, () => null);
}

export function needsSending(entry) {
  return entry.state === "waiting" || entry.state === "sending" || needsDeleting(entry);
}

export function needsDeleting(entry) {
  return Boolean(entry.state === "sent" && entry.is_taken_back && !entry.deleted_at);
}

// What was sent stays for the healing after a restore, then leaves.
export function forgetOld(now = Date.now()) {
  return store.changeEach((entry) => {
    const isOver = (entry.state === "sent" || entry.state === "withdrawn") && !needsDeleting(entry);
    return isOver && now - (entry.sent_at ?? 0) > KEPT_AFTER_SENDING_MS ? null : undefined;
  });
}

// After a restore from a backup the server may lack what it once took: everything kept is sent once more.
export function sendAllAgain(kennel, carer) {
  return store.changeEach((entry) => {
    const concerns = entry.kennel === kennel && entry.carer === carer && entry.state === "sent";
    if (!concerns) return undefined;
    return { ...entry, state: "waiting", attempts: entry.attempts + 1, deleted_at: null, next_attempt_at: 0 };
  });
}

export async function forgetKennel(kennel) {
  let unsent = 0;
  await store.changeEach((entry) => {
    if (entry.kennel !== kennel) return undefined;
    unsent += UNSENT.has(entry.state) ? 1 : 0;
    return null;
  });
  return unsent;
}

export async function counts() {
  const carer = await carerHere();
  const found = { waiting: 0, attention: 0, of_others: 0 };
  for (const entry of await store.allEntries()) {
    const isOpen = needsSending(entry) || entry.state === "attention";
    if (!isOpen) continue;
    if (carer && entry.carer !== carer.uid) found.of_others += 1;
    else if (entry.state === "attention") found.attention += 1;
    else found.waiting += 1;
  }
  return found;
}
