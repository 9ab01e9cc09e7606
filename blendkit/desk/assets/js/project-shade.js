// How the drawing is looked at: after which stage of the work, with which layers of shade, in strokes or
// blended. None of it changes the project. And the overlaps to ask about, each shown on the drawing.

import { get } from "./api.js";
import { h, newId, put } from "./dom.js";
import { LAYERS, STAGES } from "./facts.js";
import { tick } from "./fields.js";
import { faultNotice } from "./notice.js";

const LAYER_WORDS = {
  cast: "under what overlaps",
  form: "away from the light",
  contact: "where two touch",
};
const SHORT = {
  outline: "Outline",
  base: "Base coats",
  shadow: "Shadows",
  blend: "Blending",
  highlight: "Highlights",
};

export class Looking {
  constructor(board) {
    this.board = board;
    this.without = new Set();
    this.strokes = false;
    const id = newId("stage");
    this.words = h("output", { for: id, class: "stage-words" });
    this.slider = h("input", {
      type: "range",
      id,
      name: "stage",
      min: "0",
      max: String(STAGES.length - 1),
      step: "1",
      value: String(STAGES.length - 1),
      on: { input: () => this.stage(Number(this.slider.value)) },
    });
    this.stage(STAGES.length - 1);
    this.element = h(
      "section",
      { class: "looking", "aria-label": "How it is looked at", "data-shown": " plain" },
      h("div", { class: "stage-row" }, h("label", { for: id }, "Stage"), this.slider, this.words),
      h(
        "details",
        { class: "layers" },
        h("summary", {}, "Layers of the shade"),
        h(
          "div",
          { class: "layer-row", role: "group", "aria-label": "Layers of the shade" },
          LAYERS.map((name) =>
            tick(LAYER_WORDS[name], true, (on) => this.layer(name, on), { name: `layer-${name}` }),
          ),
          tick("in strokes, without blending", false, (on) => this.look(on), { name: "strokes" }),
        ),
      ),
    );
  }

  stage(number) {
    const [name, words] = STAGES[number];
    const told = `${number + 1} of ${STAGES.length}: ${words}`;
    this.words.replaceChildren(h("strong", {}, SHORT[name]), ` ${told}`);
    this.slider.setAttribute("aria-valuetext", told);
    this.board.setStage(number);
  }

  layer(name, on) {
    if (on) this.without.delete(name);
    else this.without.add(name);
    this.show();
  }

  look(strokes) {
    this.strokes = strokes;
    this.show();
  }

  async show() {
    const looking = { without: [...this.without], look: this.strokes ? "marker" : "plain" };
    try {
      await this.board.look(looking);
      this.element.dataset.shown = `${looking.without.join(" ")} ${looking.look}`;
    } catch (error) {
      faultNotice(error);
    }
  }
}

// One question after the other; what is skipped comes last the next time the project is opened.
export class Overlaps {
  constructor({ act, showPair }) {
    this.act = act;
    this.showPair = showPair;
    this.skipped = new Set();
    this.element = h("details", {
      class: "overlaps",
      hidden: true,
      on: { toggle: () => this.show() },
    });
  }

  async ask(view) {
    if (view.project !== this.project) this.skipped.clear();
    this.project = view.project;
    const { questions } = await get("/project/questions", { project: view.project });
    this.left = questions.filter((one) => !this.skipped.has(one.words));
    this.build();
  }

  build() {
    const focused = this.element.contains(document.activeElement);
    const count = this.left.length;
    this.element.hidden = !count;
    if (!count) this.element.open = false;
    const [one] = this.left;
    const button = (words, run, given = {}) =>
      h("button", { type: "button", on: { click: run }, ...given }, words);
    put(
      this.element,
      h("summary", {}, count === 1 ? "One overlap to decide" : `${count} overlaps to decide`),
      count
        ? h(
            "div",
            { class: "question", role: "group", "aria-label": one.words },
            h("p", {}, h("strong", {}, one.words)),
            h(
              "p",
              { class: "soft small" },
              h("span", { class: "key front" }),
              `Orange: ${one.front}. `,
              h("span", { class: "key behind" }),
              `Blue: ${one.behind}. The one behind takes the shadow.`,
            ),
            h(
              "div",
              { class: "acts" },
              button("Yes", () => this.answer(one, one.areas), { class: "main" }),
              button("No", () => this.answer(one, [...one.areas].reverse())),
              button("Skip", () => this.skip(one)),
            ),
          )
        : null,
    );
    if (focused && count) this.element.querySelector(".question button").focus();
    this.show();
  }

  // The drawing shows the two parts while the question stands open.
  show() {
    const one = this.element.open && this.left?.[0];
    if (!one && !this.shown) return;
    this.shown = Boolean(one);
    if (one) this.showPair(one.front, one.behind);
    else this.showPair(null);
  }

  answer(one, [front, behind]) {
    return this.act({ front, behind });
  }

  skip(one) {
    this.skipped.add(one.words);
    this.left = this.left.filter((other) => other !== one);
    this.build();
  }
}
