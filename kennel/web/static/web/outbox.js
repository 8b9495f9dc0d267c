// The page "Entries on this device": what waits, what needs attention, what was sent in the last 14 days.

import { agoText } from "./clock.js";
import { carerHere, discard, takeBack, tryAgain } from "./entries.js";
import { stateText } from "./entry_form.js";
import { drain } from "./sending.js";
import * as store from "./store.js";

const MOST_SENT = 50;
const place = document.getElementById("outbox");

function element(tag, text, className) {
  const made = document.createElement(tag);
  if (text) made.textContent = text;
  if (className) made.className = className;
  return made;
}

function button(text, action) {
  const made = element("button", text, "button");
  made.type = "button";
  made.addEventListener("click", () => action(made));
  return made;
}

// What cannot be undone is asked for twice.
function twice(text, question, action) {
  let asked = false;
  return button(text, (self) => {
    if (asked) return action();
    asked = true;
    self.textContent = question;
    return undefined;
  });
}

function actions(entry, isOwn) {
  const found = [];
  if (entry.state === "attention" && isOwn) {
    found.push(button("Try again", async () => {
      await tryAgain(entry.uid);
      drain({ eager: true });
    }));
  }
  if (entry.state === "attention" || !isOwn) {
    found.push(twice("Remove from this device", "It is stored nowhere else. Remove?", () => discard(entry.uid)));
  } else if (!entry.is_taken_back && entry.state !== "withdrawn") {
    found.push(twice("Take back", "Take this entry back?", async () => {
      await takeBack(entry.uid);
      drain({ eager: true });
    }));
  }
  return found;
}

function card(entry, isOwn) {
  const made = element("li", "", "card");
  made.dataset.state = entry.state;
  // What another carer entered is theirs to read.
  made.append(element("strong", isOwn ? entry.label || entry.type : `An entry of ${entry.carer_name}`));
  const where = isOwn ? `${entry.kennel_name} · ` : "";
  made.append(element("span", `${where}${agoText(new Date(entry.made_at))}`, "quiet"));
  made.append(element("span", isOwn ? stateText(entry) : `Waits until ${entry.carer_name} signs in here`, "state"));
  for (const error of (isOwn && entry.problem?.errors) || []) made.append(element("span", error.detail, "errorlist"));
  const row = element("p", "", "actions");
  row.append(...actions(entry, isOwn));
  if (row.childElementCount) made.append(row);
  return made;
}

function section(title, entries, carer) {
  if (!entries.length) return [];
  const list = element("ul", "", "cards");
  list.append(...entries.map((entry) => card(entry, entry.carer === carer?.uid)));
  return [element("h2", title), list];
}

async function show() {
  const carer = await carerHere();
  const all = (await store.allEntries()).sort((a, b) => b.made_at.localeCompare(a.made_at));
  const isOpen = (entry) => entry.state === "waiting" || entry.state === "sending";
  const attention = all.filter((entry) => entry.state === "attention");
  const waiting = all.filter(isOpen);
  const isDone = (entry) => entry.state === "sent" || entry.state === "withdrawn";
  const done = all.filter((entry) => isDone(entry) && entry.carer === carer?.uid).slice(0, MOST_SENT);
  const parts = [
    ...section("Needs attention", attention, carer),
    ...section("Waiting to send", waiting, carer),
    ...section("Sent from this device in the last 14 days", done, carer),
  ];
  place.replaceChildren(...(parts.length ? parts : [element("p", "Nothing is waiting on this device.", "empty")]));
}

// A page must not be rebuilt under a finger that is about to press again.
window.addEventListener("store-changed", () => {
  if (!place.contains(document.activeElement) || document.activeElement.tagName !== "BUTTON") show();
  else setTimeout(show, 1500);
});
show();
