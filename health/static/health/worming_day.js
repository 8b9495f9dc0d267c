// The worming day without waiting for the network: one treatment for each pup that is ticked is kept on the device at
// once and sent when it can be.  Without this script the form sends the same names.

import { add } from "../web/entries.js";
import { stateText } from "../web/entry_form.js";
import { drain } from "../web/sending.js";
import * as store from "../web/store.js";

const form = document.getElementById("worming-form");
const nobody = form?.querySelector("[data-nobody]");
const lines = () => [...form.querySelectorAll("[data-pup]")];
const kept = new Map(); // pup -> uid of its newest entry of this page

const part = (line, name) => line.querySelector(`[name="${name}:${line.dataset.pup}"]`);

function treatmentOf(line, occurredAt) {
  const data = { pup: line.dataset.pup, medicine: form.dataset.medicine, occurred_at: occurredAt };
  const { lot, expires_on: expiresOn } = Object.fromEntries(new FormData(form));
  if (lot.trim()) data.lot = lot.trim();
  if (expiresOn) data.expires_on = expiresOn;
  const amount = part(line, "amount")?.value.trim().replace(",", ".");
  if (amount) Object.assign(data, { amount, amount_unit: line.dataset.unit });
  data.outcome = part(line, "outcome").value;
  return data;
}

async function save() {
  const ticked = lines().filter((line) => part(line, "give").checked);
  nobody.hidden = ticked.length > 0;
  const occurredAt = new Date().toISOString();
  for (const line of ticked) {
    part(line, "give").checked = false;
    const label = `${form.dataset.medicineName} for ${line.dataset.label}`;
    const entry = await add({ type: "treatment", data: treatmentOf(line, occurredAt), label });
    kept.set(line.dataset.pup, entry.uid);
  }
  await showStates();
  drain({ eager: true });
}

async function showStates() {
  if (kept.size === 0) return;
  const entries = new Map((await store.allEntries()).map((entry) => [entry.uid, entry]));
  for (const line of lines()) {
    const entry = entries.get(kept.get(line.dataset.pup));
    const place = line.querySelector("[data-entry-state]");
    place.hidden = !entry;
    if (!entry) continue;
    place.dataset.state = entry.state;
    place.textContent = stateText(entry);
  }
}

if (form && nobody && (await store.works())) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (form.reportValidity()) save();
  });
  window.addEventListener("store-changed", showStates);
  form.dataset.ready = "yes";
}
