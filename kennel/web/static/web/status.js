// The line at the top: how many entries still wait on this device, and whether there is a connection.

import { whenText } from "./clock.js";
import { counts, kennelHere } from "./entries.js";
import { line } from "./sending.js";

const LINES = {
  offline: "No connection. You can go on: entries stay on this device and are sent later.",
  busy: "The server is busy. Entries stay on this device and are sent in a moment.",
  "signed-out": "Your sign-in has ended. Entries stay on this device; sign in again and they are sent.",
  store: "This browser cannot keep entries just now (no space?). Wait for \"saved\" before you go on.",
};

export function countText({ waiting, attention, of_others: ofOthers }) {
  const parts = [];
  if (attention) parts.push(`${attention} need${attention === 1 ? "s" : ""} attention`);
  if (waiting) parts.push(`${waiting} waiting to send`);
  if (ofOthers) parts.push(`${ofOthers} of others`);
  return parts.length ? parts.join(", ") : "All sent";
}

async function showCount() {
  const place = document.getElementById("unsent");
  if (!place) return;
  const found = await counts();
  const text = countText(found);
  if (place.textContent !== text) place.textContent = text;
  place.hidden = false;
  place.classList.toggle("waiting", found.waiting + found.of_others > 0 && !found.attention);
  place.classList.toggle("attention", found.attention > 0);
}

function freshLink() {
  const link = document.createElement("a");
  link.href = location.href;
  link.textContent = "Load it anew";
  return link;
}

function showLine() {
  const place = document.getElementById("network");
  const kept = document.body.dataset.keptAt;
  const text = LINES[line.state] ?? (navigator.onLine ? "" : LINES.offline);
  const zone = kennelHere()?.zone ?? Intl.DateTimeFormat().resolvedOptions().timeZone;
  const copy = kept ? ` This page is as it was ${whenText(new Date(kept), zone)}.` : "";
  place.textContent = text + copy;
  if (kept && navigator.onLine) place.append(" ", freshLink());
  place.hidden = !(text + copy);
}

export function startStatus() {
  for (const name of ["store-changed", "line-changed", "online", "offline"]) {
    window.addEventListener(name, () => {
      showCount();
      showLine();
    });
  }
  showLine();
  return showCount();
}
