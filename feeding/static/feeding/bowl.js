// The bowl without waiting for the network: the meal is kept on the device at once and sent when it can be.
// Ticks say who did not come; the plain form sends the same names.

import { add } from "../web/entries.js";
import { dataOf, stateText } from "../web/entry_form.js";
import { drain } from "../web/sending.js";
import * as store from "../web/store.js";

const form = document.getElementById("bowl-form");
const place = form?.querySelector("[data-entry-state]");
let current = null;

function mealOf() {
  const data = dataOf(form);
  const instant = form.elements.namedItem("occurred_at");
  if (!instant.value || instant.value === instant.defaultValue) data.occurred_at = new Date().toISOString();
  data.absent = [...form.querySelectorAll("input[name=absent]:checked")].map((input) => input.value);
  return data;
}

async function keepMeal() {
  const entry = await add({ type: "meal", data: mealOf(), label: form.dataset.offlineLabel });
  current = entry.uid;
  form.reset();
  drain({ eager: true });
}

async function showState() {
  const entry = (await store.allEntries()).find((found) => found.uid === current);
  if (!entry || !place) return;
  place.hidden = false;
  place.dataset.state = entry.state;
  place.textContent = stateText(entry);
}

if (form && (await store.works())) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (form.reportValidity()) keepMeal();
  });
  window.addEventListener("store-changed", showState);
  form.dataset.ready = "yes";
}
