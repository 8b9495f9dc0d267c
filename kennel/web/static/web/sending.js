// Sends what waits, in batches, and keeps what cannot be sent: nothing written down gets lost, one bad entry never
// blocks the others.  The server tells doubles by the uid, so sending twice is harmless.

import { carerHere, forgetKennel, forgetOld, needsDeleting, needsSending, sendAllAgain } from "./entries.js";
import * as store from "./store.js";

const MOST_ITEMS = 50;
const FIRST_DELAY_MS = 2000;
const LONGEST_DELAY_MS = 300000;
const PATIENCE_MS = 30000;
const PARENT_PATIENCE_MS = 24 * 3600000;
const LOOK_EVERY_MS = 60000;
const HEAL_EVERY_MS = 10 * 60000;

let failures = 0;
let notBefore = 0; // told by Retry-After: binding
let pausedUntil = 0; // our own patience: an `online` event ends it
let timer = null;
let running = null;

export const line = { state: "idle" }; // idle | offline | signed-out

// Asks for a sending soon.  eager: the network or the page has just come back, so our own pause is over.
export function drain({ eager = false } = {}) {
  if (eager) pausedUntil = 0;
  running ??= locked(() => sendAll(eager)).catch(reportBroken).finally(() => {
    running = null;
    plan();
  });
  return running;
}

// The store itself failed (no space, closed by the browser): the entries are where they were, the page says so.
function reportBroken(error) {
  setLine("store");
  console.error(error);
}

export function start() {
  window.addEventListener("online", () => {
    setLine("idle");
    drain({ eager: true });
  });
  window.addEventListener("offline", () => setLine("offline"));
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") drain({ eager: true });
  });
  setInterval(() => drain(), LOOK_EVERY_MS);
  return drain({ eager: true });
}

// One tab sends at a time where the browser can tell (it cannot on plain http; then doubles are merely replays).
function locked(work) {
  if (!navigator.locks) return work();
  return navigator.locks.request("kennel-sending", { ifAvailable: true }, (lock) => (lock ? work() : undefined));
}

async function sendAll(eager) {
  const carer = await carerHere();
  if (!carer || Date.now() < Math.max(notBefore, pausedUntil)) return;
  await forgetOld();
  await store.changeEach((entry) => (entry.state === "sending" ? { ...entry, state: "waiting" } : undefined));
  const kennels = new Set((await store.allEntries()).filter((e) => e.carer === carer.uid).map((e) => e.kennel));
  for (const kennel of kennels) {
    if (eager && !(await heal(kennel, carer))) return;
    if (!(await sendKennel(kennel, carer))) return;
  }
}

async function due(kennel, carer) {
  const now = Date.now();
  const found = (await store.allEntries()).filter(
    (e) => e.kennel === kennel && e.carer === carer.uid && needsSending(e) && (e.next_attempt_at ?? 0) <= now,
  );
  return found.sort((a, b) => a.made_at.localeCompare(b.made_at));
}

// Gives false when the line is down and the rest must wait.
async function sendKennel(kennel, carer) {
  let most = MOST_ITEMS;
  for (;;) {
    const items = (await due(kennel, carer)).slice(0, most);
    if (!items.length) return true;
    const outcome = await sendBatch(kennel, items);
    if (outcome === "stop") return false;
    if (outcome === "gone") return true;
    if (outcome === "smaller") most = Math.max(1, Math.floor(items.length / 2));
  }
}

async function sendBatch(kennel, items) {
  for (const item of items) {
    if (!needsDeleting(item)) {
      await store.change(item.uid, (e) => ({ ...e, state: "sending", attempts: e.attempts + 1 }));
    }
  }
  const answer = await ask(`/api/v1/kennels/${kennel}/batch`, { items: items.map(itemOf) });
  if (answer === null || isPassing(answer.status)) return pause(items, answer);
  failures = 0;
  setLine("idle");
  const body = await answer.json();
  if (answer.status === 200) return applyResults(kennel, items, answer, body);
  if (answer.status === 401) return stopped(items, "signed-out");
  if (answer.status === 404 && body.type === "/problems/not-found") return maybeGone(kennel, items);
  if (answer.status === 403 && (await mayWrite(kennel))) return pause(items, answer); // a stale CSRF token
  if (items.length > 1 && answer.status !== 403) {
    await back(items);
    return "smaller";
  }
  for (const item of items) await park(item, body);
  return "go on";
}

function itemOf(entry) {
  if (needsDeleting(entry)) {
    return { op: "delete", type: entry.type, uid: entry.uid, if_version: "*", data: { reason: "taken back" } };
  }
  return { op: entry.op, type: entry.type, uid: entry.uid, data: entry.data };
}

async function applyResults(kennel, items, answer, body) {
  if (body.results?.length !== items.length) return pause(items, answer);
  await store.setFact(`cursor:${kennel}`, body.cursor);
  for (const result of body.results) {
    await applyResult(items[result.index], result);
  }
  return "go on";
}

function applyResult(item, result) {
  const problem = result.problem;
  if (!problem) {
    const deleting = needsDeleting(item);
    return store.change(item.uid, (entry) => ({
      ...entry, state: "sent", version: result.version, problem: null,
      sent_at: entry.sent_at ?? Date.now(), deleted_at: deleting ? Date.now() : entry.deleted_at,
    }));
  }
  if (problem.type === "/problems/erased") return store.change(item.uid, () => null);
  if (needsDeleting(item) && problem.type === "/problems/not-found") {
    return store.change(item.uid, (entry) => ({ ...entry, deleted_at: Date.now() }));
  }
  const isYoung = Date.now() - Date.parse(item.made_at) < PARENT_PATIENCE_MS;
  if (problem.retry === "same" && isYoung) {
    return store.change(item.uid, (entry) => ({
      ...entry, state: "waiting", problem, next_attempt_at: Date.now() + jittered(entry.attempts),
    }));
  }
  return park(item, problem);
}

function park(item, problem) {
  const kept = { title: problem.title, detail: problem.detail, errors: problem.errors ?? [], type: problem.type };
  return store.change(item.uid, (entry) => ({ ...entry, state: "attention", problem: kept, is_taken_back: false }));
}

async function pause(items, answer) {
  await back(items);
  failures += 1;
  const told = Number(answer?.headers.get("Retry-After"));
  if (told > 0) notBefore = Date.now() + told * 1000;
  pausedUntil = Date.now() + jittered(failures);
  setLine(answer === null ? "offline" : "busy");
  return "stop";
}

async function stopped(items, state) {
  await back(items);
  setLine(state);
  return "stop";
}

async function back(items) {
  for (const item of items) {
    await store.change(item.uid, (e) => (e.state === "sending" ? { ...e, state: "waiting" } : undefined));
  }
}

// Full jitter: anywhere up to 2 s, 4 s, 8 s ... 5 min, so that all phones of a house do not come back at once.
function jittered(attempts) {
  const most = Math.min(LONGEST_DELAY_MS, FIRST_DELAY_MS * 2 ** Math.max(0, Math.min(attempts, 12) - 1));
  return Math.random() * most;
}

function isPassing(status) {
  return status === 408 || status === 425 || status === 429 || status >= 500;
}

// 404 may also be a stranger's answer (a café's sign-in page).  Only the list of own kennels proves that a
// membership has ended; then the copy of that kennel leaves this device.
async function maybeGone(kennel, items) {
  const answer = await ask("/api/v1/kennels");
  if (answer === null || answer.status !== 200) return pause(items, answer);
  const body = await answer.json();
  if (body.results.some((row) => row.uid === kennel)) return pause(items, answer);
  const lost = await forgetKennel(kennel);
  navigator.serviceWorker?.controller?.postMessage({ forget: kennel });
  window.dispatchEvent(new CustomEvent("kennel-lost", { detail: { kennel, lost } }));
  return "gone";
}

async function mayWrite(kennel) {
  const answer = await ask("/api/v1/kennels");
  if (answer === null || answer.status !== 200) return true;
  const row = (await answer.json()).results.find((found) => found.uid === kennel);
  return Boolean(row && row.role !== "reader");
}

// When a page opens, not by the timer (a page standing open must not keep a turn at a shared tablet alive), and once
// in a while only: has the server been restored from a backup?  Its feed then has another epoch (410), and what
// this device was told "stored" in the last 14 days is sent once more.  Gives false when the line is down.
async function heal(kennel, carer) {
  const cursor = await store.fact(`cursor:${kennel}`);
  const looked = (await store.fact(`healed:${kennel}`)) ?? 0;
  if (!cursor || Date.now() - looked < HEAL_EVERY_MS) return true;
  const answer = await ask(`/api/v1/kennels/${kennel}/changes?limit=1&cursor=${encodeURIComponent(cursor)}`);
  if (answer === null || isPassing(answer.status)) return (await pause([], answer)) !== "stop";
  if (answer.status === 401) return (await stopped([], "signed-out")) !== "stop";
  if (answer.status === 410) {
    await sendAllAgain(kennel, carer.uid);
    await store.setFact(`cursor:${kennel}`, null);
  }
  if (answer.status === 404) return (await maybeGone(kennel, [])) !== "stop";
  await store.setFact(`healed:${kennel}`, Date.now());
  return true;
}

function cookie(ending) {
  const found = document.cookie.split("; ").find((part) => part.split("=")[0].endsWith(ending));
  return found ? found.slice(found.indexOf("=") + 1) : "";
}

// A request to our own API; null when there was no answer of ours (a café's sign-in page is none).
async function ask(path, body) {
  const headers = { Accept: "application/json", "Device-Time": new Date().toISOString() };
  if (body) {
    headers["Content-Type"] = "application/json";
    headers["X-CSRFToken"] = cookie("csrf");
  }
  try {
    const answer = await fetch(path, {
      method: body ? "POST" : "GET", headers, body: body && JSON.stringify(body),
      credentials: "same-origin", cache: "no-store", redirect: "error", signal: AbortSignal.timeout(PATIENCE_MS),
    });
    const isJson = /^application\/(problem\+)?json/.test(answer.headers.get("Content-Type") ?? "");
    return isJson || isPassing(answer.status) ? answer : null;
  } catch {
    return null;
  }
}

function setLine(state) {
  if (line.state === state) return;
  line.state = state;
  window.dispatchEvent(new Event("line-changed"));
}

async function plan() {
  clearTimeout(timer);
  const carer = await carerHere();
  if (!carer) return;
  const open = (await store.allEntries()).filter((e) => e.carer === carer.uid && needsSending(e));
  if (!open.length || line.state === "signed-out") return;
  const next = Math.min(...open.map((e) => e.next_attempt_at ?? 0));
  const wait = Math.max(next, notBefore, pausedUntil) - Date.now();
  timer = setTimeout(() => drain(), Math.max(250, wait));
}
