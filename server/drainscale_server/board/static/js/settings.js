/* What this display is set to: remembered here, and settable by the address, so that nobody types.
     /board/north/bay-1?units=us&theme=light&distance=3&screen=24&sound=on                        */

import { byId, el } from "./dom.js";
import { say } from "./texts.js";
import { showSession } from "./session.js";

const PLACE = "drainscale.display";
const CHOICES = {
  units: ["metric", "us"],
  theme: ["dark", "light"],
  distance: ["1", "3", "5"],
  screen: ["auto", "6", "10", "24", "32", "43", "55"],
  sound: ["off", "on"],
};
const WALL_PX = 1280;

const listeners = [];
let chosen = {};

/** The settings as they are now, each one a word of its choices. */
export function settings() {
  return { ...standard(), ...chosen };
}

export const onSettings = (listener) => listeners.push(listener);

function standard() {
  const isLight = window.matchMedia("(prefers-color-scheme: light)").matches;
  return {
    units: "metric",
    theme: isLight ? "light" : "dark",
    distance: window.innerWidth >= WALL_PX ? "3" : "1",
    screen: "auto",
    sound: "off",
  };
}

/** Take what is remembered, then what the address says. */
export function loadSettings() {
  chosen = { ...remembered() };
  const asked = new URLSearchParams(window.location.search);
  for (const name of Object.keys(CHOICES)) {
    if (CHOICES[name].includes(asked.get(name))) chosen[name] = asked.get(name);
  }
  remember();
  apply();
}

function remembered() {
  try {
    const kept = JSON.parse(window.localStorage.getItem(PLACE) ?? "{}");
    return Object.fromEntries(
      Object.entries(CHOICES)
        .filter(([name, words]) => words.includes(kept[name]))
        .map(([name]) => [name, kept[name]]),
    );
  } catch {
    return {}; // a display that keeps nothing still shows
  }
}

function remember() {
  try {
    window.localStorage.setItem(PLACE, JSON.stringify(chosen));
  } catch {
    // as above
  }
}

function apply() {
  document.documentElement.dataset.theme = settings().theme;
  for (const listener of listeners) listener(settings());
}

function choose(name, word) {
  chosen[name] = word;
  remember();
  apply();
}

/** Put the switches into the page. `names`: those that this page has. */
export function showSettings(names) {
  const panel = byId("set");
  const button = byId("set-open");
  const choices = el("div", { class: "choices" }, ...names.map(fieldset));
  panel.replaceChildren(
    el("h2", { id: "set-heading" }, say("set.heading")),
    choices,
    el("p", { class: "warn", id: "set-warn", role: "status" }),
  );
  button.addEventListener("click", () => {
    panel.hidden = !panel.hidden;
    button.setAttribute("aria-expanded", String(!panel.hidden));
    button.textContent = say(panel.hidden ? "set.open" : "set.close");
  });
  showSession();
}

function fieldset(name) {
  const now = settings()[name];
  const options = CHOICES[name].map((word) => {
    const input = el("input", { type: "radio", name, value: word, checked: word === now && "" });
    input.addEventListener("change", () => choose(name, word));
    return el("label", { class: "option" }, input, el("span", {}, say(`set.${name}_${word}`)));
  });
  return el(
    "fieldset",
    {},
    el("legend", {}, say(`set.${name}`)),
    el("div", { class: "options" }, ...options),
  );
}
