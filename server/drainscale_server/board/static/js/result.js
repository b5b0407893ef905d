/* The end: the service in figures, and where its record is. */

import { byId, el, renew } from "./dom.js";
import { say } from "./texts.js";

export function showResult(view) {
  const result = view.state.result ?? null;
  byId("result").hidden = !view.isEnded;
  if (!view.isEnded) return;
  const key = JSON.stringify([result, view.settings.units, view.job.job]);
  renew(byId("result-cells"), key, () =>
    result === null ? [] : rowsOf(result, view.units).map(rowNode),
  );
  renew(byId("result-links"), key, () => linksOf(view.job.job));
}

function rowsOf(r, u) {
  return [
    ["figure.drained", u.volume_L(r.drained_20C_L, true), u.volume_L(r.U_drained_20C_L, true)],
    ["figure.added", u.volume_L(r.added_20C_L, true), u.volume_L(r.U_added_20C_L, true)],
    ["figure.spilled", u.volume_mL(r.spilled_mL), u.volume_mL(r.U_spilled_mL)],
    ["result.net", u.volume_L(r.net_20C_L, true), u.volume_L(r.U_net_20C_L, true)],
    ["result.at_close", u.temperature(r.temperature_at_close_C), u.difference(r.U_temperature_C)],
  ];
}

function rowNode([label, shown, expanded]) {
  return el(
    "div",
    {},
    el(
      "dt",
      {},
      say(label),
      el("span", { class: "u" }, shown.isKnown && expanded.isKnown ? `± ${expanded.value}` : ""),
    ),
    el(
      "dd",
      {},
      el("span", { class: "value" }, shown.value),
      el("span", { class: "unit" }, shown.isKnown ? shown.unit : ""),
    ),
  );
}

function linksOf(job) {
  const where = `/jobs/${encodeURIComponent(job)}`;
  return [
    el(
      "a",
      { class: "action", href: `/record-data/${encodeURIComponent(job)}` },
      say("result.complete"),
    ),
    el("a", { class: "action", href: `${where}/record` }, say("result.record")),
    el("a", { class: "action", href: `${where}/record.pdf` }, say("result.record_pdf")),
  ];
}
