// A field that finds a colour of the drawer as you type, or takes any typed colour.

import { h, newId, put } from "./dom.js";
import { store } from "./store.js";
import { chip } from "./swatch.js";

const SHOWN = 9;
const COLOUR = /^(#|[a-z-]+\(|[-+.\d])/i; // typed as a colour, not as a name

// Things of the drawer whose name holds every word typed; those that begin with it first.
export function findNames(text, kinds = null) {
  const words = text.toLowerCase().trim().split(/\s+/).filter(Boolean);
  const all = [...store.drawer.markers, ...store.drawer.others].filter(
    (one) => !kinds || kinds.includes(one.kind),
  );
  const hits = all.filter((one) => {
    const held = `${one.name} ${one.family} ${one.note}`.toLowerCase();
    return words.every((word) => held.includes(word));
  });
  const start = text.toLowerCase().trim();
  return hits.sort((a, b) => b.name.toLowerCase().startsWith(start) - a.name.toLowerCase().startsWith(start));
}

export function finder({ label, value = "", kinds = null, choose, hint = "", hideLabel = false }) {
  const listId = newId("list");
  const inputId = newId("finder");
  let kept = value;
  let hits = [];
  let at = -1;
  const list = h("ul", {
    id: listId,
    role: "listbox",
    class: "finder-list",
    "aria-label": label,
    hidden: true,
  });
  const input = h("input", {
    id: inputId,
    type: "text",
    role: "combobox",
    autocomplete: "off",
    spellcheck: "false",
    value,
    "aria-expanded": "false",
    "aria-controls": listId,
    "aria-autocomplete": "list",
    placeholder: hint,
  });
  const close = () => {
    list.hidden = true;
    at = -1;
    input.setAttribute("aria-expanded", "false");
    input.removeAttribute("aria-activedescendant");
  };
  const take = (text) => {
    kept = text;
    input.value = text;
    close();
    choose(text);
  };
  const mark = () => {
    [...list.children].forEach((row, place) => row.setAttribute("aria-selected", String(place === at)));
    if (at >= 0) {
      input.setAttribute("aria-activedescendant", list.children[at].id);
      list.children[at].scrollIntoView({ block: "nearest" });
    }
  };
  const open = () => {
    hits = findNames(input.value, kinds).slice(0, SHOWN);
    at = -1;
    put(
      list,
      hits.map((one) =>
        h(
          "li",
          {
            role: "option",
            id: newId("hit"),
            "aria-selected": "false",
            on: { mousedown: (event) => (event.preventDefault(), take(one.name)) },
          },
          chip(one.hex),
          h("span", {}, one.name),
          one.kind !== "marker" ? h("small", {}, one.kind) : null,
        ),
      ),
    );
    list.hidden = !hits.length;
    input.setAttribute("aria-expanded", String(!list.hidden));
  };
  input.addEventListener("input", open);
  input.addEventListener("focus", () => input.select());
  // Leaving the field keeps a whole name, and puts back what was chosen where it is none.
  input.addEventListener("blur", () => {
    close();
    const text = input.value.trim();
    if (text.toLowerCase() === kept.toLowerCase()) return;
    const named = findNames(text, kinds).find((one) => one.name.toLowerCase() === text.toLowerCase());
    if (named || !text) take(named ? named.name : "");
    else if (kinds) input.value = kept;
  });
  input.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (list.hidden) open();
      at = (at + (event.key === "ArrowDown" ? 1 : -1) + hits.length) % Math.max(hits.length, 1);
      mark();
    } else if (event.key === "Enter") {
      event.preventDefault();
      const text = input.value.trim();
      const named = hits.find((one) => one.name.toLowerCase() === text.toLowerCase());
      if (at >= 0) take(hits[at].name);
      else if (named || !text) take(named ? named.name : "");
      else if (!kinds && COLOUR.test(text)) take(text);
      else if (hits.length && !list.hidden) take(hits[0].name);
      else if (!kinds) take(text);
    } else if (event.key === "Escape" && !list.hidden) {
      event.stopPropagation();
      close();
    }
  });
  return {
    element: h(
      "div",
      { class: "finder" },
      h("label", { for: inputId, class: hideLabel ? "unseen" : "" }, label),
      input,
      list,
    ),
    set: (text) => (kept = input.value = text),
    input,
  };
}
