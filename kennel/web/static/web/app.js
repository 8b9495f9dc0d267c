// What every page does: know who is signed in, keep copies for the time without network, send what waits.

import { refreshAges } from "./clock.js";
import { carerHere, counts, kennelHere } from "./entries.js";
import { attachEntryForms } from "./entry_form.js";
import { startInstallHint } from "./install.js";
import { start as startSending } from "./sending.js";
import { startStatus } from "./status.js";
import * as store from "./store.js";

const isShell = Boolean(document.querySelector("meta[name=shell]"));

function toWorker(message) {
  navigator.serviceWorker?.ready.then((registration) => registration.active?.postMessage(message));
}

// Copies of pages belong to one person: another sign-in, or none, and they leave this device.
async function settleIdentity(carer) {
  if (isShell) return;
  const before = await store.fact("carer");
  if ((before?.uid ?? null) !== (carer?.uid ?? null)) {
    toWorker({ forget: "all" });
    await store.setFact("carer", carer);
  }
}

function keepPages() {
  if (!kennelHere()) return;
  const wanted = [location.pathname];
  for (const link of document.querySelectorAll("a[data-keep-offline]")) wanted.push(new URL(link.href).pathname);
  toWorker({ keep: [...new Set(wanted)] });
}

// Leaving with unsent entries is allowed, but said first: nobody else can send them.
function guardSignOut() {
  for (const form of document.querySelectorAll("form[data-sign-out]")) {
    let told = false;
    form.addEventListener("submit", async (event) => {
      if (told) return;
      event.preventDefault();
      const { waiting, attention } = await counts();
      told = true;
      if (waiting + attention === 0) {
        toWorker({ forget: "all" });
        form.requestSubmit();
        return;
      }
      const note = document.createElement("p");
      note.className = "caution";
      note.setAttribute("role", "alert");
      note.textContent = `${waiting + attention} of your entries are not sent yet. They stay on this device until you sign in here again. Press once more to sign out.`;
      form.prepend(note);
    });
  }
}

window.addEventListener("kennel-lost", (event) => {
  const note = document.createElement("p");
  note.className = "banner danger";
  note.setAttribute("role", "alert");
  const { lost } = event.detail;
  note.textContent = `You no longer belong to this kennel: its copy has been removed from this device${lost ? `, and with it ${lost} unsent entries` : ""}.`;
  document.getElementById("content").before(note);
});

async function begin() {
  if ("serviceWorker" in navigator) {
    await navigator.serviceWorker.register("/sw.js", { scope: "/", updateViaCache: "none" });
  }
}

// A page that comes back from the browser's memory may belong to somebody who has signed out meanwhile.
window.addEventListener("pageshow", async (event) => {
  if (!event.persisted) return;
  refreshAges();
  const now = await store.fact("carer");
  if (!isShell && (now?.uid ?? null) !== ((await carerHere())?.uid ?? null)) location.reload();
});

// A new kennel most likely lives in the zone this device is set to.
function suggestZone() {
  const select = document.querySelector("select[name=zone]");
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (select && !select.value && [...select.options].some((option) => option.value === zone)) select.value = zone;
}

begin().catch((error) => console.warn("no offline copy on this browser", error));
refreshAges();
setInterval(() => refreshAges(), 60000);
suggestZone();

if (await store.works()) {
  const carer = await carerHere();
  await settleIdentity(carer);
  if (carer) {
    attachEntryForms();
    guardSignOut();
    keepPages();
    await startStatus();
    startInstallHint();
    startSending();
    navigator.storage?.persist?.();
  }
}
document.documentElement.dataset.ready = "yes";
