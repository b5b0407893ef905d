/* Numbers as people read them, in metric or US units. Over the wire they are always metric.
   Factors: NIST Handbook 44, appendix C (US quart, fluid ounce, pound). */

export const QUART_L = 0.946352946;
export const FLUID_OUNCE_ML = 29.5735295625;
export const POUND_KG = 0.45359237;
export const MILE_KM = 1.609344;
export const UNKNOWN = "–";

const KINDS = {
  metric: {
    volume_L: { unit: "L", of: (x) => x, digits: 2, fine: 3 },
    volume_mL: { unit: "mL", of: (x) => x, digits: 0, fine: 0 },
    flow: { unit: "mL/min", of: (x) => x, digits: 0, fine: 1 },
    temperature: { unit: "°C", of: (x) => x, digits: 1, fine: 1 },
    difference: { unit: "°C", of: (x) => x, digits: 1, fine: 1 },
    mass: { unit: "kg", of: (x) => x, digits: 2, fine: 3 },
    distance: { unit: "km", of: (x) => x, digits: 0, fine: 0 },
  },
  us: {
    volume_L: { unit: "qt", of: (x) => x / QUART_L, digits: 2, fine: 3 },
    volume_mL: { unit: "fl oz", of: (x) => x / FLUID_OUNCE_ML, digits: 1, fine: 1 },
    flow: { unit: "fl oz/min", of: (x) => x / FLUID_OUNCE_ML, digits: 1, fine: 2 },
    temperature: { unit: "°F", of: (x) => x * 1.8 + 32, digits: 1, fine: 1 },
    difference: { unit: "°F", of: (x) => x * 1.8, digits: 1, fine: 1 },
    mass: { unit: "lb", of: (x) => x / POUND_KG, digits: 2, fine: 2 },
    distance: { unit: "mi", of: (x) => x / MILE_KM, digits: 0, fine: 0 },
  },
};

const isKnown = (value) => typeof value === "number" && Number.isFinite(value);

function written(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

/** Numbers in one system: units("us").volume_L(1.5) is {value: "1.59", unit: "qt"}. */
export function units(system) {
  const kinds = KINDS[system] ?? KINDS.metric;
  const shown = {};
  for (const [name, kind] of Object.entries(kinds)) {
    shown[name] = (value, isFine = false) => ({
      value: isKnown(value) ? written(kind.of(value), isFine ? kind.fine : kind.digits) : UNKNOWN,
      unit: kind.unit,
      isKnown: isKnown(value),
    });
  }
  return { ...shown, text: (name, value, isFine) => textOf(shown[name](value, isFine)) };
}

const textOf = ({ value, unit }) => `${value} ${unit}`;

/** A duration as minutes and seconds, from an hour on as hours and minutes. */
export function duration(seconds) {
  if (!isKnown(seconds)) return UNKNOWN;
  const whole = Math.max(0, Math.round(seconds));
  const two = (n) => String(n).padStart(2, "0");
  if (whole >= 3600)
    return `${Math.floor(whole / 3600)}:${two(Math.floor((whole % 3600) / 60))}:${two(whole % 60)}`;
  return `${Math.floor(whole / 60)}:${two(whole % 60)}`;
}

/** A moment as the wall clock of this display has it. */
export function clockOf(unix_s) {
  const date = new Date(unix_s * 1000);
  return [date.getHours(), date.getMinutes(), date.getSeconds()]
    .map((n) => String(n).padStart(2, "0"))
    .join(":");
}
