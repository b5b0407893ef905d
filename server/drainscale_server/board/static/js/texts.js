/* Texts of the catalogue; a text that is not there shows its key, so that a test finds it. */

let texts = {};

export async function loadTexts(language) {
  const answer = await fetch(`/static/board/texts.json?lang=${encodeURIComponent(language)}`);
  if (!answer.ok) throw new Error(`texts: ${answer.status}`);
  texts = await answer.json();
}

/** Tell whether the catalogue has a text. */
export const has = (key) => {
  const [section, name] = split(key);
  return texts[section]?.[name] !== undefined;
};

/** Say a text: say("figure.thin_below", {flow: "60 mL/min"}). */
export function say(key, values = {}) {
  const [section, name] = split(key);
  const text = texts[section]?.[name] ?? `‹${key}›`;
  return text.replace(/\{([a-z_]+)\}/g, (whole, blank) => values[blank] ?? whole);
}

function split(key) {
  const dot = key.indexOf(".");
  return [key.slice(0, dot), key.slice(dot + 1)];
}

/** Fill the texts of the page's own HTML in. */
export function fillTexts(root = document) {
  for (const node of root.querySelectorAll("[data-text]"))
    node.textContent = say(node.dataset.text);
  for (const node of root.querySelectorAll("[data-label]")) {
    node.setAttribute("aria-label", say(node.dataset.label));
  }
}
