// The drawing on the table: the canvas, marks over it, the light that is dragged around it, strokes and
// clicks.

import { Drawing, rampBytes } from "./canvas.js";
import { Cross } from "./cross.js";
import { h, put, svg } from "./dom.js";
import { Zoom } from "./zoom.js";

// A part in front, one behind, and the others, while it is asked which lies over which.
const [FRONT, BEHIND, FAINT] = [
  [232, 152, 56],
  [92, 148, 196],
  [240, 237, 231],
];

const clock = (degrees) => {
  const minutes = (Math.round((((degrees + 360) % 360) * 2) / 15) * 15) % 720;
  const hour = Math.floor(minutes / 60) || 12;
  return `${hour}:${String(minutes % 60).padStart(2, "0")}`;
};

const SIDES = ["top", "upper right", "right", "lower right", "bottom", "lower left", "left", "upper left"];
const HOURS = "twelve one two three four five six seven eight nine ten eleven".split(" ");

// A direction as people say it: “upper right, half past one”.
export function lightWords(degrees) {
  const side = SIDES[Math.round((((degrees % 360) + 360) % 360) / 45) % 8];
  const [hour, minutes] = clock(degrees).split(":").map(Number);
  const after = HOURS[hour % 12];
  const words = {
    0: `${after} o’clock`,
    15: `quarter past ${after}`,
    30: `half past ${after}`,
    45: `quarter to ${HOURS[(hour + 1) % 12]}`,
  };
  return `${side}, ${words[minutes]}`;
}

export class Board {
  // `told` is told of clicks { share, area }, strokes [[x, y] …], lights "10:30" (over: kept), and what is
  // to be said.
  constructor(told) {
    this.told = told;
    this.canvas = h("canvas", { class: "drawing", role: "img", "aria-label": "The line image, coloured" });
    this.marks = svg("svg", {
      class: "marks",
      preserveAspectRatio: "none",
      viewBox: "0 0 1 1",
      "aria-hidden": "true",
    });
    this.sun = h(
      "div",
      {
        class: "sun",
        role: "slider",
        tabindex: "0",
        "aria-label": "Where the light comes from",
        "aria-valuemin": "0",
        "aria-valuemax": "345",
        title: "Drag the light around the image",
      },
      h("span", { "aria-hidden": "true" }),
    );
    this.cross = new Cross(this.marks, {
      stroke: told.stroke,
      say: told.say,
      where: (share) => this.where(share),
    });
    this.sheet = h("div", { class: "sheet" }, this.canvas, this.marks, this.cross.element);
    this.frame = h("div", { class: "frame" }, this.sheet);
    this.stage = h("div", { class: "stage" }, this.frame, this.sun);
    this.zoom = new Zoom(this.frame, this.sheet, () => this.mode === "choose");
    this.element = h(
      "div",
      { class: "board", on: { keydown: (event) => this.zoom.press(event.key) && event.preventDefault() } },
      this.zoom.element,
      this.stage,
    );
    this.drawing = new Drawing(this.canvas);
    this.mode = "choose";
    this.showing = "coloured";
    this.looking = {};
    this.bare = false;
    this.listen();
  }

  share(event) {
    const box = this.canvas.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height].map((one) =>
      Math.min(Math.max(one, 0), 1),
    );
  }

  listen() {
    let stroke = null;
    const line = svg("polyline", { class: "stroke" });
    this.stage.addEventListener("pointerdown", (event) => {
      if (event.button || this.mode === "choose" || !this.view || this.sun.contains(event.target)) return;
      stroke = [this.share(event)];
      this.stage.setPointerCapture(event.pointerId);
      this.marks.append(line);
    });
    this.stage.addEventListener("pointermove", (event) => {
      if (!stroke) return;
      stroke.push(this.share(event));
      line.setAttribute("points", stroke.map((place) => place.join(",")).join(" "));
    });
    this.stage.addEventListener("pointerup", (event) => {
      if (!this.view || (!stroke && this.sun.contains(event.target))) return;
      const share = this.share(event);
      if (!stroke) return this.told.click({ share, area: this.drawing.areaAt(share) });
      const drawn = stroke;
      stroke = null;
      line.removeAttribute("points");
      line.remove();
      this.told.stroke([drawn[0], ...drawn.slice(1, -1).filter((_, place) => place % 4 === 3), share]);
    });
    this.stage.addEventListener("pointercancel", () => {
      stroke = null;
      line.remove();
    });
    this.sun.addEventListener("pointerdown", (event) => {
      this.sun.setPointerCapture(event.pointerId);
      this.dragging = true;
      event.preventDefault();
      this.sun.focus();
    });
    this.sun.addEventListener("pointermove", (event) => this.dragging && this.turn(this.angle(event), false));
    this.sun.addEventListener("pointerup", (event) => {
      if (!this.dragging) return;
      this.dragging = false;
      this.turn(this.angle(event), true);
    });
    this.sun.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 15, ArrowDown: 15, ArrowLeft: -15, ArrowUp: -15 }[event.key];
      if (!step) return;
      event.preventDefault();
      this.turn(this.degrees + step, true);
    });
    new ResizeObserver(() => this.placeSun()).observe(this.stage);
  }

  angle(event) {
    const box = this.stage.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left - box.width / 2, event.clientY - box.top - box.height / 2];
    return (Math.atan2(x / box.width, -y / box.height) * 180) / Math.PI;
  }

  turn(degrees, over) {
    const light = clock(degrees);
    this.degrees = (degrees + 360) % 360;
    this.placeSun();
    this.told.light(light, over);
  }

  placeSun() {
    if (!this.view) return;
    const angle = (this.degrees * Math.PI) / 180;
    const [dx, dy] = [Math.sin(angle), -Math.cos(angle)];
    this.sun.setAttribute("aria-valuenow", Math.round(this.degrees));
    this.sun.setAttribute("aria-valuetext", lightWords(this.degrees));
    this.sun.title = `Light from the ${lightWords(this.degrees)}; drag it, or turn it with the arrow keys`;
    const reach = 0.5 / Math.max(Math.abs(dx), Math.abs(dy));
    this.sun.style.left = `calc(${(0.5 + dx * reach) * 100}% + ${(dx * 20).toFixed(1)}px)`;
    this.sun.style.top = `calc(${(0.5 + dy * reach) * 100}% + ${(dy * 20).toFixed(1)}px)`;
  }

  async load(view, light = "", again = false) {
    this.view = view;
    const { drawing } = this;
    await drawing.loadLine(view);
    if (this.project !== view.project) this.zoom.whole();
    const fresh = drawing.serial !== view.map || this.project !== view.project;
    if (fresh) await drawing.load(view);
    const { without = [], look = "plain" } = this.looking;
    if (again || (fresh && (without.length || look !== "plain"))) drawing.toneSerial = -1;
    if (light || drawing.toneSerial !== view.tone) await drawing.loadTones(view, light, this.looking);
    this.project = view.project;
    if (!light && !this.dragging) {
      this.degrees = view.light_deg;
      this.placeSun();
    }
    this.stage.style.aspectRatio = `${view.width_px} / ${view.height_px}`;
    this.stage.style.setProperty("--shape", view.width_px / view.height_px);
    this.cross.shape = view.width_px / view.height_px;
    this.paintAll();
  }

  // Paint everything as the project says.
  paintAll() {
    const { view, drawing } = this;
    drawing.paint([0], null, view.paper_srgb255);
    if (this.showing === "parts") {
      const soft = rampBytes(view.soft);
      for (const one of view.areas)
        drawing.paint([one.number], null, soft.subarray(one.number * 3, one.number * 3 + 3));
    } else if (this.pair) {
      for (const part of view.parts) drawing.paint(part.areas, null, this.pair[part.name] ?? FAINT);
    } else {
      for (const one of view.areas) if (one.part < 0) drawing.paint([one.number], null, view.paper_srgb255);
      for (const part of view.parts) this.paintPart(part, rampBytes(part.ramp));
    }
    drawing.show();
  }

  // Before the first coat there is only the outline.
  paintPart(part, ramp) {
    this.drawing.paint(part.areas, this.bare ? null : ramp, this.view.paper_srgb255);
  }

  // Look at the picture after a stage of the work.
  setStage(number) {
    this.bare = number === 0;
    this.drawing.setStage(number);
    if (this.view) this.paintAll();
  }

  // Look at some layers of the shade alone, or at strokes.
  look(looking) {
    this.looking = looking;
    return this.load(this.view, "", true);
  }

  // Show two parts, and the others faint; null ends it.
  showPair(front, behind) {
    this.pair = front ? { [front]: FRONT, [behind]: BEHIND } : null;
    this.paintAll();
  }

  // Try another ramp on one part at once; nothing else is touched.
  tryRamp(part, text) {
    if (this.showing === "parts") return;
    this.paintPart(part, rampBytes(text));
    this.drawing.showAreas(part.areas);
  }

  // Marks over the drawing: numbers of areas without a part, closures, what is chosen.
  mark({ chosen = [], closures = false, free = false, dabs = false }) {
    const { view } = this;
    const shape = view.width_px / view.height_px;
    const spots = [];
    for (const one of view.areas) {
      const selected = chosen.includes(one.number);
      if (!selected && !(free && one.part < 0)) continue;
      const radius = Math.min(Math.max(one.radius * 0.5, 0.004), selected ? 0.012 : 0.008);
      spots.push(
        svg("ellipse", {
          cx: one.x,
          cy: one.y,
          rx: radius,
          ry: radius * shape,
          class: selected ? "spot chosen" : "spot free",
        }),
      );
    }
    const joins = closures
      ? view.closures.map((one) =>
          svg("polyline", {
            points: one.path.map((place) => place.join(",")).join(" "),
            class: `closure ${one.on ? (one.parts_two ? "parts" : "idle") : "off"}`,
          }),
        )
      : [];
    const rings = closures
      ? view.closures
          .filter((one) => one.parts_two || !one.on)
          .map((one) => {
            const [x, y] = one.path[Math.floor(one.path.length / 2)];
            return svg("ellipse", {
              cx: x,
              cy: y,
              rx: 0.016,
              ry: 0.016 * shape,
              class: `ring ${one.on ? "" : "off"}`,
            });
          })
      : [];
    const dots = dabs
      ? view.parts.flatMap((part) =>
          ["dark", "bright"].flatMap((kind) =>
            part[kind].map(([x, y]) =>
              svg("ellipse", { cx: x, cy: y, rx: 0.009, ry: 0.009 * shape, class: `dab ${kind}` }),
            ),
          ),
        )
      : [];
    put(this.marks, joins, rings, spots, dots);
    this.cross.place();
  }

  // A place in words: where it is, and what lies there.
  where(share) {
    const { view, drawing } = this;
    const number = drawing.areaAt(share);
    const part = view.parts[view.areas.find((one) => one.number === number)?.part]?.name;
    const what = drawing.isLine(share)
      ? "on a line"
      : !number
        ? "outside the figure"
        : part
          ? `in ${part}`
          : `in area ${number}`;
    return `at ${Math.round(share[0] * view.width_mm)}, ${Math.round(share[1] * view.height_mm)} mm, ${what}`;
  }
}
