// Hands without a pointer: one tab stop for a grid, arrow keys within it; and the list of keys.

import { h } from "./dom.js";
import { dialog } from "./notice.js";

const KEYS = [
  ["Tab", "to the next group of things"],
  ["arrow keys", "from one to the next within a group: swatches, parts, the light"],
  ["Enter or space bar", "press what is marked"],
  ["Ctrl Z", "take the last step back (the drawer, a project)"],
  ["Ctrl Shift Z", "do it again"],
  ["Escape", "close what is open"],
  ["?", "this list"],
];

export const keyHelp = () =>
  dialog("Keys", () =>
    h(
      "dl",
      { class: "keys" },
      KEYS.map(([key, words]) => [h("dt", {}, h("kbd", {}, key)), h("dd", {}, words)]),
    ),
  );

// Make the elements that match `selector` in `place` one tab stop; call it again when they were drawn anew.
export function roving(place, selector) {
  const all = [...place.querySelectorAll(selector)];
  const now =
    all.find((one) => one === document.activeElement) ||
    all.find((one) => one.getAttribute("aria-pressed") === "true") ||
    all[0];
  for (const one of all) one.tabIndex = one === now ? 0 : -1;
  if (place.dataset.roving) return;
  place.dataset.roving = selector;
  place.addEventListener("focusin", (event) => {
    const here = event.target.closest(selector);
    if (!here) return;
    for (const one of place.querySelectorAll(selector)) one.tabIndex = one === here ? 0 : -1;
  });
  place.addEventListener("keydown", (event) => {
    const here = event.target.closest(selector);
    const next = here && neighbour([...place.querySelectorAll(selector)], here, event.key);
    if (!next) return;
    event.preventDefault();
    next.focus();
  });
}

// The one to go to: beside it in reading order, or the nearest of the row above or below.
function neighbour(all, here, key) {
  const at = all.indexOf(here);
  if (key === "ArrowRight") return all[at + 1];
  if (key === "ArrowLeft") return all[at - 1];
  if (key === "Home") return all[0];
  if (key === "End") return all.at(-1);
  if (key !== "ArrowDown" && key !== "ArrowUp") return null;
  const box = here.getBoundingClientRect();
  const way = key === "ArrowDown" ? 1 : -1;
  let best = null;
  for (const one of all) {
    const other = one.getBoundingClientRect();
    const down = (other.top - box.top) * way;
    if (down < box.height / 2) continue;
    const far = down * 4 + Math.abs(other.left - box.left);
    if (!best || far < best.far) best = { far, one };
  }
  return best?.one;
}
