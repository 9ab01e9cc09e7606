// Looking closer: wheel, pinch, keys and buttons zoom a sheet within its frame; a drag moves it then.

import { h } from "./dom.js";

const MOST = 8;
const STEP = 1.25;
const STILL = 6; // pixels that a finger may slip in a click

export class Zoom {
  // `frame` stays where it is, `sheet` within it is scaled and moved; `pans()` says if one finger may pan.
  constructor(frame, sheet, pans) {
    Object.assign(this, { frame, sheet, pans, scale: 1, x: 0, y: 0, moved: false });
    const button = (words, label, run) =>
      h("button", { type: "button", "aria-label": label, title: label, on: { click: run } }, words);
    this.element = h(
      "div",
      { class: "zoom", role: "group", "aria-label": "Zoom" },
      button("+", "Look closer", () => this.by(STEP * STEP)),
      button("−", "Look from further away", () => this.by(1 / STEP / STEP)),
      button("whole", "Show the whole drawing", () => this.whole()),
    );
    this.fingers = new Map();
    frame.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    frame.addEventListener("pointerdown", (event) => this.down(event), true);
    frame.addEventListener("pointermove", (event) => this.move(event), true);
    for (const end of ["pointerup", "pointercancel"])
      window.addEventListener(end, (event) => this.up(event), true);
  }

  // Keys of whoever holds the frame: true when one was meant for the zoom.
  press(key) {
    if (key === "+" || key === "=") this.by(STEP);
    else if (key === "-") this.by(1 / STEP);
    else if (key === "0") this.whole();
    else return false;
    return true;
  }

  whole() {
    this.set(1, 0, 0);
  }

  // Zoom about a place of the frame, in pixels from its corner; its middle when none is given.
  by(factor, at = null) {
    const box = this.frame.getBoundingClientRect();
    const [px, py] = at ?? [box.width / 2, box.height / 2];
    const scale = Math.min(Math.max(this.scale * factor, 1), MOST);
    const grown = scale / this.scale;
    this.set(scale, px - (px - this.x) * grown, py - (py - this.y) * grown);
  }

  // The sheet always covers the frame.
  set(scale, x, y) {
    const box = this.frame.getBoundingClientRect();
    const within = (value, size) => Math.min(Math.max(value, size * (1 - scale)), 0);
    Object.assign(this, { scale, x: within(x, box.width), y: within(y, box.height) });
    this.sheet.style.transform = `translate(${this.x}px, ${this.y}px) scale(${scale})`;
    this.frame.dataset.zoom = scale.toFixed(2);
  }

  place(event) {
    const box = this.frame.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  wheel(event) {
    event.preventDefault();
    this.by(Math.exp(-event.deltaY / 400), this.place(event));
  }

  down(event) {
    this.fingers.set(event.pointerId, this.place(event));
    if (this.fingers.size === 1) this.moved = false;
    this.start = this.place(event);
  }

  move(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = this.place(event);
    const others = [...this.fingers].filter(([id]) => id !== event.pointerId);
    if (others.length) {
      const [other] = others.map(([, place]) => place);
      const far = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
      this.by(far(now, other) / Math.max(far(before, other), 1), [
        (now[0] + other[0]) / 2,
        (now[1] + other[1]) / 2,
      ]);
      this.moved = true;
    } else if (this.scale > 1 && this.pans()) {
      if (!this.moved && Math.hypot(now[0] - this.start[0], now[1] - this.start[1]) < STILL) return;
      this.moved = true;
      this.set(this.scale, this.x + now[0] - before[0], this.y + now[1] - before[1]);
    }
    this.fingers.set(event.pointerId, now);
    if (this.moved) event.stopPropagation();
  }

  // The end of a drag or pinch is no click.
  up(event) {
    this.fingers.delete(event.pointerId);
    if (this.moved && this.frame.contains(event.target)) event.stopPropagation();
  }
}
