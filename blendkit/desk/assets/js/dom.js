// Elements from plain data. Text is always set as text, never read as markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, given, kids) {
  for (const [key, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (key === "class") element.setAttribute("class", value);
    else if (key === "on")
      for (const [event, run] of Object.entries(value)) element.addEventListener(event, run);
    else if (key === "style")
      for (const [name, part] of Object.entries(value)) element.style.setProperty(name, part);
    else if (key === "value" || key === "checked" || key === "disabled" || key === "selected")
      element[key] = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  for (const kid of kids.flat(4)) {
    if (kid === null || kid === undefined || kid === false) continue;
    element.append(kid instanceof Node ? kid : String(kid));
  }
  return element;
}

export const h = (tag, given = {}, ...kids) => fill(document.createElement(tag), given, kids);
export const svg = (tag, given = {}, ...kids) => fill(document.createElementNS(SVG, tag), given, kids);

export function put(parent, ...kids) {
  parent.replaceChildren(...kids.flat(4).filter((kid) => kid !== null && kid !== undefined && kid !== false));
  return parent;
}

// What was looked at stays looked at while `root` is drawn anew: the same kind of thing with the same words.
export async function keepFocus(root, draw) {
  const words = (one) => one.name || one.getAttribute("aria-label") || one.textContent;
  const before = root.contains(document.activeElement) ? document.activeElement : null;
  const [tag, said] = before ? [before.tagName, words(before)] : [];
  await draw();
  if (!before || before.isConnected || document.activeElement !== document.body) return;
  const same = [...root.querySelectorAll(tag)].filter((one) => !one.disabled);
  (same.find((one) => words(one) === said) ?? root.querySelector("[tabindex='-1'], h2"))?.focus();
}

let counter = 0;
export const newId = (word) => `${word}-${++counter}`;

export function after(milliseconds, run) {
  let timer = 0;
  return (...given) => {
    clearTimeout(timer);
    timer = setTimeout(() => run(...given), milliseconds);
  };
}

export const plural = (count, one, many) => `${count} ${count === 1 ? one : (many ?? one + "s")}`;
