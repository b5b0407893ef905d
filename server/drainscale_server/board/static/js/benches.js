/* The list of benches, asked again every few seconds while somebody can see it. */

import { byId, el, put, renew } from "./dom.js";
import { fillTexts, has, loadTexts, say } from "./texts.js";
import { loadSettings, showSettings } from "./settings.js";
import { clockOf } from "./units.js";
import { goIn } from "./session.js";

const AGAIN_MS = 4000;

async function begin() {
  await loadTexts(new URLSearchParams(window.location.search).get("lang") ?? "en");
  loadSettings();
  fillTexts();
  showSettings(["units", "theme"]);
  document.title = `${say("benches.title")} · ${say("app.name")}`;
  document.addEventListener("visibilitychange", ask);
  window.setInterval(ask, AGAIN_MS);
  await ask();
}

async function ask() {
  if (document.visibilityState === "hidden") return;
  try {
    show(await benchesOf());
    put(byId("trouble"), "");
    put(byId("at"), clockOf(Date.now() / 1000));
  } catch {
    put(byId("trouble"), say("benches.failed"));
    goIn();
  }
}

/** Ask the server for its benches. */
export async function benchesOf() {
  const answer = await fetch("/api/v1/benches", { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(String(answer.status));
  const told = await answer.json();
  return Array.isArray(told) ? told : (told.benches ?? told.items ?? []);
}

function show(benches) {
  byId("none").hidden = benches.length > 0;
  renew(byId("benches"), JSON.stringify(benches), () =>
    benches.map((bench) => el("li", {}, card(bench))),
  );
}

function card(bench) {
  const href = `/board/${encodeURIComponent(bench.site)}/${encodeURIComponent(bench.bench)}`;
  const step = bench.step && has(`step.${bench.step}`) ? say(`step.${bench.step}`) : "";
  const cue =
    bench.state === "online" && bench.cue && has(`word.${bench.cue}`)
      ? say(`word.${bench.cue}`)
      : "";
  return el(
    "a",
    { href, "aria-label": say("benches.open", { bench: bench.bench }) },
    el("span", { class: "name" }, `${bench.site} / ${bench.bench}`),
    el(
      "span",
      {},
      bench.job ? `${bench.label || bench.job}${step ? ` · ${step}` : ""}` : say("benches.no_job"),
    ),
    cue ? el("span", { class: "cue" }, cue) : null,
    el("span", { class: "quiet" }, stateOf(bench)),
  );
}

function stateOf(bench) {
  const clock = bench.last_seen ?? "–"; // with its date: it may be days ago
  return say(`benches.${bench.state ?? "unknown"}`, { clock });
}

begin();
