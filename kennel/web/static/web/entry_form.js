// Any form marked data-offline-type="weighing" keeps its entry on the device first, then sends it.
// Inputs say by data-kind how their text becomes JSON; names are the record's field names.

import { instantOf } from "./clock.js";
import { add, kennelHere } from "./entries.js";
import { drain } from "./sending.js";
import * as store from "./store.js";

const READERS = {
  text: (text) => text,
  day: (text) => text,
  number: (text) => text.replace(",", "."),
  integer: (text) => (/^[0-9]{1,9}$/.test(text) ? Number(text) : text),
  instant: (text) => instantOf(text, kennelHere().zone)?.toISOString() ?? text,
};

// JSON data of a form; fields left empty are absent.
export function dataOf(form) {
  const data = {};
  for (const input of form.elements) {
    const kind = input.dataset?.kind;
    if (!kind || !input.name) continue;
    if (input.type === "radio" && !input.checked) continue;
    if (kind === "yes-no") data[input.name] = input.checked;
    else if (input.value.trim()) data[input.name] = READERS[kind](input.value.trim());
  }
  return data;
}

// "now" is the moment of saving, not the moment the page was opened.
function settleInstant(form, data) {
  const input = form.elements.namedItem("occurred_at");
  if (!input || !input.value || input.value === input.defaultValue) data.occurred_at = new Date().toISOString();
}

export async function keep(form, { label = form.dataset.offlineLabel ?? "", about = {} } = {}) {
  const data = dataOf(form);
  settleInstant(form, data);
  // Never the uid that stands in the page: a kept copy of the page carries the same one each time it is opened.
  const entry = await add({ type: form.dataset.offlineType, data, label, about });
  form.dispatchEvent(new CustomEvent("entry-kept", { detail: entry, bubbles: true }));
  drain({ eager: true });
  return entry;
}

export function stateText(entry) {
  return {
    waiting: "Kept on this device, waiting to send",
    sending: "Kept on this device, waiting to send",
    sent: entry.is_taken_back ? "Taken back" : "Saved",
    withdrawn: "Taken back",
    attention: `Needs attention: ${entry.problem?.detail ?? "not accepted"}`,
  }[entry.state];
}

export function shortStateText(entry) {
  return {
    waiting: "waiting to send", sending: "waiting to send", sent: "saved", withdrawn: "taken back",
    attention: `needs attention: ${entry.problem?.detail ?? "not accepted"}`,
  }[entry.state];
}

// The state line of a plain entry form follows its last entry.
function follow(form) {
  const place = form.querySelector("[data-entry-state]");
  let current = null;
  form.addEventListener("entry-kept", (event) => {
    current = event.detail.uid;
    form.reset();
  });
  window.addEventListener("store-changed", async () => {
    const entry = (await store.allEntries()).find((found) => found.uid === current);
    if (!entry || !place) return;
    place.hidden = false;
    place.dataset.state = entry.state;
    place.textContent = stateText(entry);
  });
}

export function attachEntryForms() {
  for (const form of document.querySelectorAll("form[data-offline-type]")) {
    if (form.dataset.offlineOwn !== undefined) continue; // its page has a script of its own
    follow(form);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (form.reportValidity()) keep(form);
    });
  }
}
