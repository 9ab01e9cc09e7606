// Strokes without a pointer: arrow keys move a cross over the drawing, Enter begins and ends a stroke.

import { after, h, svg } from "./dom.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const STEP = 0.004; // of the longer side; a held key goes further, with Shift further still
const HELD = 0.012;
const FAR = 0.05;

export const CROSS_WORDS =
  "By keyboard: go to the cross with Tab, move it with the arrow keys (with Shift in great " +
  "steps), Enter begins and ends the stroke, the space bar makes a bend, Escape drops it.";

export const DAB_WORDS =
  "By keyboard: go to the cross with Tab, move it with the arrow keys (with Shift in great " +
  "steps), Enter sets a dab.";

const CROSS_LABEL = `Cross for strokes. ${CROSS_WORDS}`;

export class Cross {
  // `told` is given stroke([[x, y] …]), say(words) and where([x, y]), which gives words for a place.
  constructor(marks, told) {
    this.told = told;
    this.marks = marks;
    this.at = [0.5, 0.5];
    this.stroke = [];
    this.shape = 1;
    this.line = svg("polyline", { class: "stroke" });
    const lines = svg(
      "svg",
      { viewBox: "0 0 44 44", "aria-hidden": "true" },
      ["under", "over"].map((kind) => svg("path", { class: kind, d: "M22 2V17M22 27V42M2 22H17M27 22H42" })),
    );
    // A screen reader hands the arrow keys on to what has this role.
    this.element = h(
      "div",
      {
        role: "application",
        tabindex: "0",
        class: "aim-cross",
        hidden: true,
        "aria-label": CROSS_LABEL,
        on: {
          keydown: (event) => this.press(event),
          keyup: (event) => event.key === " " && event.preventDefault(),
          click: (event) => event.detail === 0 && this.set(),
        },
      },
      lines,
    );
    this.sayWhere = after(250, () => this.told.say(this.told.where(this.at)));
    this.place();
  }

  // Only where strokes or dabs are drawn is there a cross; another mode drops the stroke.
  show(on, dots = false) {
    this.element.hidden = !on;
    this.dots = dots;
    this.element.setAttribute("aria-label", dots ? `Cross for dabs. ${DAB_WORDS}` : CROSS_LABEL);
    this.drop("");
  }

  press(event) {
    const way = ARROWS[event.key];
    if (way) this.move(way, event.shiftKey ? FAR : event.repeat ? HELD : STEP);
    else if (event.key === "Enter") event.repeat || this.set();
    else if (event.key === " ") this.bend();
    else if (event.key === "Escape" && this.stroke.length) this.drop("The stroke is dropped.");
    else return;
    event.preventDefault();
  }

  // A step is as long downwards as it is across.
  move([x, y], step) {
    const [across, down] = this.shape > 1 ? [step, step * this.shape] : [step / this.shape, step];
    this.at = [this.at[0] + x * across, this.at[1] + y * down].map((one) => Math.min(Math.max(one, 0), 1));
    this.place();
    this.sayWhere();
  }

  set() {
    if (this.dots) return this.told.stroke([this.at]);
    if (!this.stroke.length) {
      this.stroke = [this.at];
      this.place();
      return this.told.say(`The stroke begins ${this.told.where(this.at)}.`);
    }
    const drawn = [...this.stroke, this.at];
    this.drop("");
    return this.told.stroke(drawn);
  }

  bend() {
    if (this.dots) return this.set();
    if (!this.stroke.length) return this.told.say("Enter begins the stroke.");
    this.stroke.push(this.at);
    return this.told.say(`A bend ${this.told.where(this.at)}.`);
  }

  drop(words) {
    this.stroke = [];
    this.line.remove();
    this.place();
    this.told.say(words);
  }

  place() {
    this.element.style.left = `${this.at[0] * 100}%`;
    this.element.style.top = `${this.at[1] * 100}%`;
    if (!this.stroke.length) return;
    this.line.setAttribute("points", [...this.stroke, this.at].map((one) => one.join(",")).join(" "));
    if (!this.line.isConnected) this.marks.append(this.line);
  }
}
