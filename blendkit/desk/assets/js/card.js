// A small mock card: base, mat, figure, ribbon and greeting, in colours that the desk computed for a light.

import { h, svg } from "./dom.js";

// `paint` gives a name's colours: { hex, deeper }. `image` are the image colours' names.
export function card({ base, mat, accent, panel, image, greeting, paint, words }) {
  const at = (place) => paint(image[Math.min(place, image.length - 1)]);
  const coat = at(0);
  const lamp = at(1);
  const scarf = at(2);
  const outline = {
    fill: "none",
    stroke: "#2b2623",
    "stroke-width": 1.7,
    "stroke-linejoin": "round",
    "stroke-linecap": "round",
  };
  const baseHex = paint(base).hex;
  return h(
    "div",
    { class: "mock", role: "img", "aria-label": words },
    svg(
      "svg",
      { viewBox: "0 0 220 290", "aria-hidden": "true" },
      svg("rect", { x: 6, y: 7, width: 210, height: 280, rx: 3, fill: "#000", opacity: 0.14 }),
      svg("rect", { x: 4, y: 4, width: 210, height: 280, rx: 3, fill: baseHex }),
      svg("rect", { x: 4, y: 196, width: 210, height: 17, fill: paint(accent).hex }),
      svg("path", { d: "M4 198.5h210M4 210.500h210", stroke: "#000", opacity: 0.13, "stroke-width": 1 }),
      svg("rect", { x: 26, y: 23, width: 168, height: 202, rx: 2, fill: "#000", opacity: 0.16 }),
      svg("rect", { x: 24, y: 20, width: 168, height: 202, rx: 2, fill: paint(mat).hex }),
      svg("rect", { x: 33, y: 29, width: 150, height: 184, rx: 1, fill: paint(panel).hex }),
      figure(coat, lamp, scarf, outline),
      greeting
        ? svg(
            "text",
            {
              x: 109,
              y: 261,
              "text-anchor": "middle",
              "font-size": 22,
              "font-weight": 700,
              fill: paint(greeting).hex,
              "letter-spacing": 0.5,
            },
            "a little light",
          )
        : null,
    ),
  );
}

// A hedgehog with a lantern and a scarf; each colour with its second coat where the shadow falls.
function figure(coat, lamp, scarf, outline) {
  const spines =
    "M70 181c-17-5-25-22-19-40 1-4-3-8-2-12l9 3c0-6 0-11 3-15l7 6c2-6 4-10 9-13l4 8c4-4 9-7 " +
    "14-7l1 9c6-2 11-2 16 0l-4 8c6 1 10 4 13 8l-8 4c12 12 14 32 0 41Z";
  return svg(
    "g",
    {},
    svg("path", { d: spines, fill: coat.hex }),
    svg("path", {
      d: "M70 181c-17-5-25-22-19-40 4 14 14 25 30 28 14 2 26 0 35-6 0 7-3 13-7 18Z",
      fill: coat.deeper,
    }),
    svg("path", { d: spines, ...outline }),
    svg("path", {
      d: "M108 139c10-3 23 1 29 11 5 2 8 6 7 9-2 4-8 3-11 2-3 9-12 18-23 19-9-5-16-30-2-41Z",
      fill: "#f3e2cc",
      stroke: "#2b2623",
      "stroke-width": 1.7,
      "stroke-linejoin": "round",
    }),
    svg("circle", { cx: 126, cy: 152, r: 2.1, fill: "#2b2623" }),
    svg("circle", { cx: 142.5, cy: 158.5, r: 3, fill: "#2b2623" }),
    svg("path", { d: "M95 165c8 6 20 9 32 8l3 9c-13 3-29 0-38-6Z", fill: scarf.hex }),
    svg("path", { d: "M95 165c8 6 20 9 32 8l1 3c-12 1-25-1-34-6Z", fill: scarf.deeper }),
    svg("path", { d: "M95 165c8 6 20 9 32 8l3 9c-13 3-29 0-38-6Z M98 178l-5 22 11 2 3-21", ...outline }),
    svg("path", {
      d: "M98 178l-5 22 11 2 3-21Z",
      fill: scarf.hex,
      stroke: "#2b2623",
      "stroke-width": 1.7,
      "stroke-linejoin": "round",
    }),
    svg("path", { d: "M78 196c8 2 17 2 24 0M118 195c6 1 13 1 18-1", ...outline }),
    svg("path", { d: "M150 150c0-10 12-10 12 0", ...outline }),
    svg("path", {
      d: "M145 152h22l3 7h-28Z",
      fill: lamp.deeper,
      stroke: "#2b2623",
      "stroke-width": 1.7,
      "stroke-linejoin": "round",
    }),
    svg("path", {
      d: "M144 159h24l3 28h-30Z",
      fill: lamp.hex,
      stroke: "#2b2623",
      "stroke-width": 1.7,
      "stroke-linejoin": "round",
    }),
    svg("path", {
      d: "M156 167c5 6 5 13 0 16-5-3-5-10 0-16Z",
      fill: "#fff6d6",
      stroke: "#2b2623",
      "stroke-width": 1.3,
    }),
    svg("path", {
      d: "M140 187h32v5h-32Z",
      fill: lamp.deeper,
      stroke: "#2b2623",
      "stroke-width": 1.7,
      "stroke-linejoin": "round",
    }),
    svg("path", { d: "M134 172c5-9 10-16 16-22", ...outline }),
    svg("path", {
      d:
        "M62 60c3-6 3-6 6 0 6 3 6 3 0 6-3 6-3 6-6 0-6-3-6-3 0-6ZM140 78c2-5 2-5 4 0 5 2 5 2 0 4-2 " +
        "5-2 5-4 0-5-2-5-2 0-4ZM105 52c2-4 2-4 3.500 0 4 1.600 4 1.600 0 3.200-1.500 4-1.500 " +
        "4-3.500 0-4-1.600-4-1.600 0-3.200Z",
      fill: lamp.hex,
      stroke: "#2b2623",
      "stroke-width": 1.2,
      "stroke-linejoin": "round",
    }),
  );
}
