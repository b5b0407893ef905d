/* Whether this browser is logged in, and how it is logged out. */

import { byId, el } from "./dom.js";
import { say } from "./texts.js";

export const SESSION = "/api/v1/session";
const ALL = "/api/v1/sessions";

/** Put the ways out under the settings, where this browser is logged in. */
export async function showSession() {
  // a page that the browser kept and brings back by "back" was shown before somebody logged out
  window.addEventListener("pageshow", (event) => event.persisted && goIn());
  if (!(await asked())?.is_open) return;
  const here = el("button", { id: "log-out", type: "button" }, say("set.log_out"));
  const all = el("button", { id: "log-out-all", type: "button" }, say("set.log_out_all"));
  here.addEventListener("click", () => leave(SESSION));
  all.addEventListener("click", () => {
    if (all.dataset.sure) leave(ALL); // the bays' screens go dark by it: it is pressed twice
    all.dataset.sure = "yes";
    all.textContent = say("set.log_out_sure");
  });
  byId("set").append(el("p", { class: "ways-out" }, here, all));
}

/** Go to the page to log in if that is what keeps the server from answering. */
export async function goIn() {
  const told = await asked();
  if (!told?.is_needed || told.is_open) return;
  const here = window.location.pathname + window.location.search;
  window.location.replace(`/login?next=${encodeURIComponent(here)}`);
}

async function leave(path) {
  try {
    const answer = await fetch(path, { method: "DELETE" });
    if (answer.ok) window.location.replace("/login");
  } catch {
    // the server is not there, and so is what it shows
  }
}

async function asked() {
  try {
    const answer = await fetch(SESSION);
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}
