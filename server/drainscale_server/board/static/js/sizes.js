/* How large things are, from the distance they are read from and the size of the screen.

   A capital of 22 minutes of arc is the preferred size, one of 16 the least (NUREG-0700 rev. 2,
   1.3.1-4): 6.4 and 4.65 mm for each metre of distance. A browser does not know how large its
   screen is: the guess goes by the width of the window and can be set. */

import { say } from "./texts.js";
import { byId, put } from "./dom.js";

const MAIN_MM_PER_M = 6.5;
const SUB_MM_PER_M = 4.72;
const BASE_MM_PER_M = 1.5; // walked up to
const INCH_MM = 25.4;
const HIT_MM = 20.5; // gloves: 20 mm and more
const APART_MM = 5.2;
const SHAPES = [
  { name: "phone", under: 700, inch: 6.1, main: 0.058, sub: 0.026, base: 16 },
  { name: "tablet", under: 1280, inch: 10, main: 0.062, sub: 0.029, base: 17 },
  { name: "wall", under: Infinity, inch: 24, main: 0.071, sub: 0.036, base: 19 },
];

let capital = 0;

/** Height of a capital as a share of the font's size, measured on the font that is there. */
function capitalShare() {
  if (capital === 0) {
    const pen = document.createElement("canvas").getContext("2d");
    pen.font = `800 200px ${getComputedStyle(document.body).fontFamily}`;
    const box = pen.measureText("H0");
    capital = box.actualBoundingBoxAscent / 200 || 0.7;
  }
  return capital;
}

/** Pixels of style in a millimetre of this screen. */
function pixelsPerMm(shape, screen) {
  const inch = screen === "auto" ? shape.inch : Number(screen);
  // a window smaller than its screen would look like a coarser one: the screen itself counts
  const wide = Math.max(window.screen.width, window.innerWidth);
  const high = Math.max(window.screen.height, window.innerHeight);
  const whole = screen === "auto" ? [window.innerWidth, window.innerHeight] : [wide, high];
  return Math.hypot(...whole) / (inch * INCH_MM);
}

/** Set the sizes on the page; returns them in px. */
export function setSizes({ distance, screen }) {
  const shape = SHAPES.find((one) => window.innerWidth < one.under);
  const metres = Number(distance);
  const perMm = pixelsPerMm(shape, screen);
  const least = Math.min(
    window.innerHeight,
    window.innerWidth * (shape.name === "phone" ? 2 : 0.75),
  );
  const asked = MAIN_MM_PER_M * metres * perMm;
  const most = window.innerWidth * (shape.name === "phone" ? 0.145 : 0.075);
  const mainCap = Math.min(Math.max(asked, shape.main * least), most);
  const subMost = shape.name === "phone" ? window.innerWidth * 0.052 : mainCap * 0.74;
  const subCap = Math.min(Math.max(SUB_MM_PER_M * metres * perMm, shape.sub * least), subMost);
  const share = capitalShare();
  const base = Math.max(
    shape.base,
    Math.min((BASE_MM_PER_M * perMm * Math.min(metres, 3)) / share, 26),
  );
  const sizes = {
    main: mainCap / share,
    sub: subCap / share,
    base,
    label: Math.max(base * 1.05, (subCap / share) * 0.46),
    small: Math.max(base * 0.85, 13),
    hit: shape.name === "phone" ? 60 : HIT_MM * pixelsPerMm(shape, "auto"),
    apart: shape.name === "phone" ? 16 : APART_MM * pixelsPerMm(shape, "auto"),
  };
  for (const [name, px] of Object.entries(sizes)) {
    document.documentElement.style.setProperty(`--${name}`, `${px.toFixed(2)}px`);
  }
  sizes.shape = shape.name;
  document.documentElement.dataset.shape = shape.name;
  document.documentElement.dataset.distance = distance;
  const warn = byId("set-warn");
  const isSmall = mainCap < asked * 0.98;
  if (warn)
    put(warn, isSmall ? say("set.too_small", { distance: say(`set.distance_${distance}`) }) : "");
  return sizes;
}
