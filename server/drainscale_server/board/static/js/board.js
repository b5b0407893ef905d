/* The bay board: one stream in, all panels shown from one view of the moment. */

import { byId, put } from "./dom.js";
import { fillTexts, loadTexts, say } from "./texts.js";
import { loadSettings, onSettings, settings, showSettings } from "./settings.js";
import { setSizes } from "./sizes.js";
import { clockOf } from "./units.js";
import { Feed } from "./feed.js";
import { focusOf, viewOf } from "./view.js";
import { saidNow, showNow } from "./now.js";
import { showLedger, showPrimary } from "./figures.js";
import { showHeat } from "./heat.js";
import { showForecast } from "./forecast.js";
import { showTicks } from "./ticks.js";
import { showCautions, showEvents, showFaults, showPath } from "./side.js";
import { showTrend } from "./trend.js";
import { showResult } from "./result.js";
import { Dock } from "./dock.js";
import { Orders } from "./orders.js";
import { Sounder } from "./sound.js";

const LOOK_MS = 1000;

async function begin() {
  await loadTexts(new URLSearchParams(window.location.search).get("lang") ?? "en");
  loadSettings();
  fillTexts();
  showSettings(["units", "theme", "distance", "screen", "sound"]);
  const [, , site, bench] = window.location.pathname.split("/");
  const where = `/api/v1/benches/${site}/${bench}`;
  document.title = `${decodeURIComponent(bench)} · ${say("app.name")}`;
  put(byId("bench"), `${decodeURIComponent(site)} / ${decodeURIComponent(bench)}`);
  run(where);
}

function run(where) {
  const sounder = new Sounder();
  let sizes = setSizes(settings());
  let feed = null;
  const orders = new Orders(`${where}/commands`, () => show());
  const dock = new Dock(orders);

  function show() {
    if (feed === null) return;
    const view = viewOf(feed, settings(), sizes);
    document.body.dataset.focus = focusOf(view);
    document.body.dataset.step = view.step ?? "";
    document.body.dataset.t = view.figures.t ?? "";
    showAll(view, dock, orders);
    sounder.follow(saidNow(view).cue, settings().sound === "on");
  }

  const resize = () => {
    sizes = setSizes(settings());
    show();
  };
  onSettings(resize);
  window.addEventListener("resize", resize);
  feed = new Feed(`${where}/feed`, show);
  show();
  window.setInterval(show, LOOK_MS);
}

function showAll(view, dock, orders) {
  showTop(view);
  showNow(view);
  showFaults(view);
  showPrimary(view);
  showHeat(view);
  showLedger(view);
  showForecast(view);
  showTicks(view, (gate, name) => dock.tick(gate, name), orders.isBusy);
  showCautions(view);
  showEvents(view);
  showTrend(view);
  showResult(view);
  dock.show(view);
  document.body.dataset.link = view.stale.link ? "lost" : "live";
}

function showTop(view) {
  showPath(view);
  put(byId("job"), view.job ? view.job.label || view.job.job : "");
  put(byId("link-text"), linkText(view));
  byId("link").classList.toggle("lost", view.stale.link);
  const { server, bench } = view.state;
  put(
    byId("version"),
    server ? say("app.version", { version: server.version, kit: bench?.kit_version || "–" }) : "",
  );
}

function linkText(view) {
  const { feed } = view;
  if (feed.link === "hidden") return say("link.hidden");
  if (feed.heardAt === null) return say("link.connecting");
  if (view.isLost) return say("link.lost", { clock: clockOf(feed.heardAt / 1000) });
  if (view.isSilent && view.since_s !== null)
    return say("link.offline", { clock: clockOf(view.since_s) });
  return `${say("link.live")} · ${clockOf(feed.heardAt / 1000)}`;
}

begin();
