/* The board's own symbols on a field of 100 by 100. Their outlines differ, so that they are told
   apart without colour: ring, arrow, diamond, pointing down, block, drop, octagon, broken square. */

import { svg } from "./dom.js";

const path = (d, kind) => svg("path", { d, class: kind });
const dot = (cx, cy, r) => svg("circle", { cx, cy, r, class: "solid", stroke: "none" });

const SYMBOLS = {
  // a ring with three dots: it measures
  wait: () => [
    svg("circle", { cx: 50, cy: 50, r: 43 }),
    dot(28, 50, 6.5),
    dot(50, 50, 6.5),
    dot(72, 50, 6.5),
  ],
  // an arrow onward
  "go-on": () => [path("M8 36h40V14l44 36-44 36V64H8z", "solid")],
  // a diamond with a stroke and a dot: be there
  "get-ready": () => [path("M50 5 95 50 50 95 5 50z"), path("M50 28v26"), dot(50, 70, 6.5)],
  // the plug leaves its hole downward, and a drop follows
  open: () => [
    path("M4 22h26M70 22h26"),
    path("M50 8v48"),
    path("M28 44 50 68 72 44"),
    path("M50 76c6 8 8 11 8 14a8 8 0 0 1-16 0c0-3 2-6 8-14z", "solid fine"),
  ],
  // a block closes the hole
  shut: () => [
    path("M4 22h92"),
    path("M28 34h44v22H28z", "solid"),
    path("M50 96V70"),
    path("M34 82 50 66 66 82"),
  ],
  // a drop with a plus
  add: () => [
    path("M42 6c18 24 28 38 28 54a28 28 0 0 1-56 0c0-16 10-30 28-54z"),
    path("M42 44v30M27 59h30"),
    path("M84 12v28M70 26h28", "fine"),
  ],
  // an octagon, crossed
  stop: () => [path("M31 5h38l26 26v38L69 95H31L5 69V31z"), path("M33 33 67 67M67 33 33 67")],
  // a square with a broken side, and a question
  fault: () => [
    path("M60 7h33v86H60M40 93H7V7h33"),
    path("M36 38c0-10 6-16 15-16s15 6 15 14c0 11-15 11-15 24"),
    dot(51, 77, 6),
  ],
  // two ends of a line that do not meet
  "no-link": () => [
    path("M5 50h26M69 50h26"),
    path("M38 32 46 68M54 32 62 68", "fine"),
    svg("circle", { cx: 50, cy: 50, r: 44, "stroke-dasharray": "16 12" }),
  ],
  // an empty platform
  "no-job": () => [
    path("M10 78h80"),
    path("M24 78V64h52v14"),
    path("M50 14v30M36 32 50 46 64 32", "fine"),
  ],
  // a full stroke under a check
  done: () => [path("M16 48 40 72 86 18"), path("M10 92h80")],
};

/** Draw a symbol's parts. */
export function symbol(name) {
  return (SYMBOLS[name] ?? SYMBOLS.wait)();
}

export const SYMBOL_NAMES = Object.keys(SYMBOLS);
