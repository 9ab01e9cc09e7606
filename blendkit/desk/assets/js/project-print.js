// What can be printed of a project.

import { address } from "./api.js";
import { h } from "./dom.js";
import { dialog } from "./notice.js";

const SHEETS = [
  ["plan", "The plan sheet", "Numbered parts with hatched shadows, the coloured preview, every part's markers in working order, papers, and what to pull from the drawer."],
  ["handout", "A class hand-out", "The same with an empty box beside every printed colour, to try the markers in."],
  ["areas", "The map of areas", "Every closed area with its number."],
  ["preview", "The coloured preview", "A picture at print resolution."],
  ["cut", "The cut line", "Around the figure with a white rim, for a cutting machine or a knife: SVG in millimetres."],
];

export function printSheets(view) {
  return dialog("Print", () =>
    h(
      "div",
      {},
      h("p", { class: "caution-box" }, h("strong", {}, "Print at 100 %, "), "never “fit to page”. Alcohol inks are flammable and their vapour needs fresh air; keep them from children, food and skin. Local rules and the maker's safety sheet come first."),
      h(
        "ul",
        { class: "sheets" },
        SHEETS.map(([form, title, words]) =>
          h("li", {}, h("div", {}, h("strong", {}, title), h("p", { class: "soft small" }, words)), h("a", { class: "button", href: address("/project/print", { project: view.project, form }), target: "_blank", rel: "noopener", "data-form": form }, "Open")),
        ),
      ),
    ),
  );
}
