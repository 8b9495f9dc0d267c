// The weigh-in without waiting for the network: a weight is kept on the device at once, the next pup comes up, and
// each pup's line says whether its weight is saved or still waits.  Without this script the form works page by page.

import { agoText, timeText, whenText } from "../web/clock.js";
import { kennelHere, takeBack } from "../web/entries.js";
import { keep, shortStateText, stateText } from "../web/entry_form.js";
import { drain } from "../web/sending.js";
import * as store from "../web/store.js";

const ROUND_MS = 3 * 3600000;
const UNDO_MS = 10000;
const form = document.getElementById("weigh-form");
const list = document.getElementById("weigh-list");
const part = (name) => document.getElementById(`weigh-${name}`);
const zone = kennelHere()?.zone;
const gramsOf = Object.fromEntries(Object.entries(part("units")?.dataset ?? {}).map(([u, size]) => [u, Number(size)]));
const rows = () => [...list.querySelectorAll("[data-pup]")];
const value = form?.elements.namedItem("entered_value");
const unit = form?.elements.namedItem("entered_unit");

let kept = new Map(); // pup -> its newest entry of this round on this device
let undo = null;
let saving = false; // one press is one weight
let confirmed = null; // the reading that was looked at twice

function current() {
  return rows().find((row) => row.dataset.pup === form.elements.namedItem("pup").value);
}

function isWeighed(row) {
  const entry = kept.get(row.dataset.pup);
  if (entry) return entry.state !== "attention";
  return row.dataset.lastAt !== undefined && Date.now() - Date.parse(row.dataset.lastAt) < ROUND_MS;
}

function nextOf(row) {
  const all = rows();
  const start = all.indexOf(row) + 1;
  return [...all.slice(start), ...all.slice(0, start)].find((other) => other !== row && !isWeighed(other));
}

function lastText(row) {
  if (row.dataset.lastG === undefined) return "not weighed yet";
  const weight = row.querySelector(".weight").textContent;
  return `${weight}, ${agoText(new Date(row.dataset.lastAt))}`;
}

function show(row, { focus = true } = {}) {
  form.hidden = !row;
  part("done").hidden = Boolean(row);
  for (const other of rows()) other.removeAttribute("aria-current");
  calm();
  if (!row) {
    part("done").focus?.();
    return;
  }
  row.setAttribute("aria-current", "true");
  form.elements.namedItem("pup").value = row.dataset.pup;
  part("who").textContent = row.dataset.label;
  part("last").textContent = lastText(row);
  const following = nextOf(row);
  part("save").textContent = following ? "Save, next pup" : "Save";
  part("skip").hidden = !following;
  if (focus) value.focus({ preventScroll: false });
}

function calm() {
  confirmed = null;
  part("look").hidden = true;
  part("save").textContent = "Save, next pup";
}

function grams() {
  return Number(value.value.trim().replace(",", ".")) * gramsOf[unit.value];
}

// The same question as the server's page asks: far from the last weight, so look at the scale once more.
function needsLook(row) {
  const { leastG, mostG } = row.dataset;
  const reading = `${value.value} ${unit.value}`;
  if (leastG === undefined || confirmed === reading) return false;
  const typed = grams();
  if (typed >= Number(leastG) && typed <= Number(mostG)) return false;
  confirmed = reading;
  part("look").textContent = `${reading} is far from what ${row.dataset.label} weighed last. Look at the scale again.`;
  part("look").hidden = false;
  part("save").textContent = "It is right, save it";
  return true;
}

function changeText(row, newG) {
  if (row.dataset.lastG === undefined) return "";
  const difference = newG - Number(row.dataset.lastG);
  const shown = Math.abs(difference) / gramsOf[unit.value];
  const digits = { g: 0, oz: 2, kg: 3, lb: 2 }[unit.value];
  const sign = difference > 0 ? "+" : "−";
  const amount = Math.abs(difference) < 0.05 ? "no change" : `${sign}${Number(shown.toFixed(digits))} ${unit.value}`;
  return ` (${amount} since ${whenText(new Date(row.dataset.lastAt), zone)})`;
}

async function save(event) {
  event.preventDefault();
  const row = current();
  if (saving || !row || !form.reportValidity() || !(grams() > 0) || needsLook(row)) return;
  const reading = `${value.value.trim()} ${unit.value}`;
  const said = `${row.dataset.label} ${reading}${changeText(row, grams())}`;
  const following = nextOf(row);
  const about = { pup: row.dataset.pup, grams: grams(), reading };
  saving = true;
  let entry;
  try {
    entry = await keep(form, { label: `Weight of ${row.dataset.label}: ${reading}`, about });
  } finally {
    saving = false;
  }
  // The next pup stands there before anything else is waited for: what is typed now is hers, not the last one's.
  kept.set(row.dataset.pup, entry);
  value.value = "";
  settleTime();
  form.querySelector("details").open = false;
  form.elements.namedItem("note").value = "";
  show(following);
  say(said, entry.uid);
  await refresh();
}

// The time field says "now" again, so that the next weight is not told for the moment of this one.
function settleTime() {
  const when = form.elements.namedItem("occurred_at");
  when.value = when.defaultValue;
}

function say(text, uid) {
  clearTimeout(undo);
  const words = document.createElement("span");
  words.textContent = `${text}: `;
  const state = document.createElement("span");
  state.className = "state";
  state.dataset.uid = uid;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button";
  button.textContent = "Take it back";
  button.addEventListener("click", async () => {
    button.remove();
    const entry = await takeBack(uid);
    drain({ eager: true });
    show(rows().find((row) => row.dataset.pup === entry.about.pup));
  });
  const line = document.createElement("span");
  line.append(words, state);
  part("kept").replaceChildren(line, button);
  undo = setTimeout(() => button.remove(), UNDO_MS);
}

// What this device holds of this round: shown beside what the server knew when the page was made.
async function refresh() {
  const since = Date.now() - ROUND_MS;
  const own = (await store.allEntries()).filter((entry) => entry.type === "weighing" && entry.about?.pup
    && Date.parse(entry.data.occurred_at) > since && entry.state !== "withdrawn" && !entry.is_taken_back);
  own.sort((a, b) => a.made_at.localeCompare(b.made_at));
  kept = new Map(own.map((entry) => [entry.about.pup, entry]));
  for (const row of rows()) showEntry(row, kept.get(row.dataset.pup));
  const state = part("kept").querySelector(".state");
  const shown = state && (await store.allEntries()).find((entry) => entry.uid === state.dataset.uid);
  if (shown) {
    state.textContent = stateText(shown);
    state.dataset.state = shown.state === "sending" ? "waiting" : shown.state;
  }
}

function showEntry(row, entry) {
  const weight = row.querySelector(".weight");
  const state = row.querySelector(".state");
  weight.dataset.server ??= weight.textContent;
  state.dataset.server ??= state.textContent;
  if (!entry) {
    weight.textContent = weight.dataset.server;
    state.textContent = state.dataset.server;
    delete row.dataset.state;
    return;
  }
  weight.textContent = entry.about.reading;
  row.dataset.state = entry.state === "sending" ? "waiting" : entry.state;
  state.textContent = `${timeText(new Date(entry.data.occurred_at), zone)} ${shortStateText(entry)}`;
}

async function begin() {
  if (!form || !(await store.works())) return;
  form.addEventListener("submit", save);
  value.addEventListener("input", calm);
  unit.addEventListener("change", calm);
  part("skip").addEventListener("click", () => show(nextOf(current())));
  list.addEventListener("click", (event) => {
    const row = event.target.closest("[data-pup]");
    if (!row) return;
    event.preventDefault();
    show(row);
    form.scrollIntoView({ block: "start" });
  });
  window.addEventListener("store-changed", refresh);
  await refresh();
  const asked = new URLSearchParams(location.search).get("pup");
  const wanted = rows().find((row) => row.dataset.pup === asked) ?? rows().find((row) => !isWeighed(row));
  show(wanted ?? null, { focus: false });
  form.dataset.ready = "yes";
}

begin();
