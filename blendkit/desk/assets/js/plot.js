// The place of a colour and its companions by lightness and chroma, with the shading series. All points
// come with the record.

import { h, svg } from "./dom.js";

const W = 300;
const H = 262;
const PAD = { left: 34, right: 12, top: 12, bottom: 34 };

let crowd = {}; // the drawer's dots, which stay from one colour to the next

// `markers` are the drawer's, which stand behind it faintly.
export function plot({ plot: data, base, shadow, light }, chosen, markers) {
  const chroma = ([, a, b]) => Math.hypot(a, b);
  const all = [
    ...data.series.map((one) => one[0]),
    ...[...shadow, ...light].map((one) => chroma(one.lab)),
    chroma(base.lab),
    40,
  ];
  const most = Math.ceil(Math.max(...all) / 20) * 20;
  const x = (c) => PAD.left + (Math.min(c, most) / most) * (W - PAD.left - PAD.right);
  const y = (l) => PAD.top + (1 - l / 100) * (H - PAD.top - PAD.bottom);
  const marks = [0, 25, 50, 75, 100];
  const axes = [
    marks.map((l) => svg("line", { x1: PAD.left, x2: W - PAD.right, y1: y(l), y2: y(l), class: "grid" })),
    marks.map((l) => svg("text", { x: PAD.left - 6, y: y(l) + 4, "text-anchor": "end" }, l)),
    [0, most / 2, most].map((c) =>
      svg("text", { x: x(c), y: H - PAD.bottom + 16, "text-anchor": "middle" }, c),
    ),
    svg(
      "text",
      { x: (W + PAD.left) / 2, y: H - 3, "text-anchor": "middle", class: "axis" },
      "vividness (chroma)",
    ),
    svg(
      "text",
      {
        x: 10,
        y: (H - PAD.bottom) / 2 + 8,
        "text-anchor": "middle",
        transform: `rotate(-90 10 ${(H - PAD.bottom) / 2 + 8})`,
        class: "axis",
      },
      "lightness L*",
    ),
  ];
  if (crowd.markers !== markers || crowd.most !== most) {
    const dots = markers.map((one) =>
      svg("circle", { cx: x(chroma(one.lab)), cy: y(one.lab[0]), r: 3, fill: one.hex }),
    );
    crowd = { markers, most, element: svg("g", { class: "crowd" }, dots) };
  }
  const line = svg("polyline", {
    points: data.series.map(([c, l]) => `${x(c).toFixed(1)},${y(l).toFixed(1)}`).join(" "),
    class: "series",
  });
  const point = (one, kind, radius) =>
    svg(
      "circle",
      { cx: x(chroma(one.lab)), cy: y(one.lab[0]), r: radius, fill: one.hex, class: `point ${kind}` },
      svg("title", {}, one.name),
    );
  const sorts = [...light, ...shadow].filter((one) => one.how === "marker");
  const words =
    `${base.name} at lightness ${base.lab[0].toFixed(0)}, chroma ${chroma(base.lab).toFixed(0)}. ` +
    `The line is the same surface under less light.`;
  return h(
    "figure",
    { class: "plot" },
    svg(
      "svg",
      { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": words },
      axes,
      crowd.element,
      line,
      sorts.map((one) =>
        point(one, one.name === chosen?.name ? "chosen" : "", one.name === chosen?.name ? 8 : 5.5),
      ),
      chosen && chosen.how !== "marker" ? point(chosen, "chosen", 8) : null,
      point(base, "base", 10),
    ),
    h("figcaption", {}, "The line: this colour in less and less light. A true shadow lies near it."),
  );
}
