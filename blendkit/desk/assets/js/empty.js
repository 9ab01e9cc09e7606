// What a place says while the drawer has no markers.

import { h, put } from "./dom.js";
import { go } from "./go.js";
import { store } from "./store.js";

// True, with a word of help on the page, when there is nothing to answer with yet.
export function isEmpty(root, title, words) {
  if (store.state.counts.marker) return false;
  put(
    root,
    h(
      "div",
      { class: "photo-welcome" },
      h("h1", {}, title),
      h("p", { class: "lead" }, words),
      h(
        "p",
        {},
        h(
          "button",
          { type: "button", class: "main", on: { click: () => go("drawer") } },
          "Put the first markers in the drawer",
        ),
      ),
    ),
  );
  return true;
}
