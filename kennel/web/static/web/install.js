// A hint, never a pop-up: as an installed page the copy stays (some phones clear others after a week) and can ring.

import * as store from "./store.js";

const ASK_AGAIN_MS = 30 * 86400000;

function isInstalled() {
  return matchMedia("(display-mode: standalone)").matches || navigator.standalone === true;
}

async function show(text, action) {
  const place = document.getElementById("install");
  if (!place || isInstalled()) return;
  if (Date.now() - ((await store.fact("install-declined")) ?? 0) < ASK_AGAIN_MS) return;
  place.replaceChildren(text, " ");
  if (action) place.append(button("Install", action));
  place.append(button("Not now", async () => {
    await store.setFact("install-declined", Date.now());
    place.hidden = true;
  }));
  place.hidden = false;
}

function button(text, action) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button";
  made.textContent = text;
  made.addEventListener("click", action);
  return made;
}

export function startInstallHint() {
  window.addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault();
    show("Put this page on your home screen: it then opens without a connection too.", () => event.prompt());
  });
  const isApplePhone = /iPad|iPhone|iPod/.test(navigator.userAgent);
  if (isApplePhone) {
    show("Put this page on your home screen (Share, then \"Add to Home Screen\"): only then does the phone keep unsent entries for long and let reminders ring.");
  }
}
