// What can be printed of a project.

import { CAUTION } from "./facts.js";
import { address, post } from "./api.js";
import { h, put } from "./dom.js";
import { tick } from "./fields.js";
import { dialog, faultBlock, work } from "./notice.js";

const SHEETS = [
  [
    "plan",
    "The plan sheet",
    "Numbered parts with hatched shadows, the coloured preview, every part's markers in working " +
      "order, papers, and what to pull from the drawer. PDF.",
  ],
  [
    "handout",
    "A class hand-out",
    "The numbered drawing, and an empty box beside every printed colour to try the markers in. PDF.",
  ],
  ["areas", "The map of areas", "Every closed area with its number, to edit the project file by hand. PDF."],
  ["preview", "The coloured preview", "A picture at print resolution. PNG."],
  [
    "cut",
    "The cut line",
    "Around the figure with a white rim, for a cutting machine or a knife. SVG in millimetres.",
  ],
];

export function printSheets(view) {
  const how = { look: "plain" };
  return dialog("Print", () =>
    h(
      "div",
      {},
      h(
        "p",
        { class: "caution-box" },
        h("strong", {}, "Print at 100 %, "),
        `never “fit to page”. ${CAUTION}`,
      ),
      h(
        "ul",
        { class: "sheets" },
        SHEETS.map((one) => row(view, how, ...one)),
      ),
      tick("Coloured in strokes, as a nib lays them, without blending", false, (on) => {
        how.look = on ? "marker" : "plain";
      }),
    ),
  );
}

function row(view, how, form, title, words) {
  const place = h("div", { class: "made", "aria-live": "polite" });
  const button = h(
    "button",
    {
      type: "button",
      "data-form": form,
      "aria-label": `${form === "cut" ? "Save" : "Print"}: ${title}`,
      on: { click: make },
    },
    form === "cut" ? "Save" : "Print",
  );
  async function make() {
    button.disabled = true;
    // The press itself opens the tab: a browser blocks a later one. It fills when the sheet is made.
    const tab = form === "cut" ? null : window.open("", "_blank");
    try {
      const { job } = await post("/project/print", { project: view.project, form, ...how });
      const made = await work(place, job, title);
      const saved = made.media_type === "image/svg+xml";
      const link = h(
        "a",
        {
          class: "button main",
          href: address("/file", { file: made.file }),
          target: saved ? null : "_blank",
          rel: "noopener",
          download: saved ? made.name : null,
        },
        saved ? "Save it" : "Open it",
      );
      put(place, link);
      if (tab) tab.location = link.href;
      else if (saved) link.click();
      else link.focus();
    } catch (error) {
      tab?.close();
      put(place, faultBlock(error));
    }
    button.disabled = false;
    button.textContent = form === "cut" ? "Save again" : "Print again";
  }
  return h(
    "li",
    {},
    h("div", {}, h("strong", {}, title), h("p", { class: "soft small" }, words), place),
    button,
  );
}
