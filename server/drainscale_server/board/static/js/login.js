/* The page to log in: the password once, then where the person wanted to go. */

import { byId, put } from "./dom.js";
import { fillTexts, loadTexts, say } from "./texts.js";
import { loadSettings } from "./settings.js";
import { SESSION } from "./session.js";

async function begin() {
  await loadTexts(new URLSearchParams(window.location.search).get("lang") ?? "en");
  loadSettings();
  fillTexts();
  document.title = `${say("login.heading")} · ${say("app.name")}`;
  byId("login").addEventListener("submit", (event) => {
    event.preventDefault();
    enter();
  });
  byId("password").focus();
}

async function enter() {
  put(byId("answer"), "");
  byId("enter").disabled = true;
  try {
    const answer = await fetch(SESSION, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ password: byId("password").value }),
    });
    if (answer.ok || answer.status === 409) window.location.replace(wanted());
    else put(byId("answer"), say(answer.status === 403 ? "login.wrong" : "login.failed"));
  } catch {
    put(byId("answer"), say("login.failed"));
  } finally {
    byId("enter").disabled = false;
  }
}

/** Where to go: a page of this server, whatever the address says. */
function wanted() {
  const next = new URLSearchParams(window.location.search).get("next") ?? "/";
  try {
    const url = new URL(next, window.location.origin);
    return url.origin === window.location.origin ? url.href : "/";
  } catch {
    return "/"; // no address at all
  }
}

begin();
