// Ink as it lies on the paper: dabs, strips, chips. Colours and text colours come with the records.

import { h } from "./dom.js";

// A dab of one, two and three coats, overlapping as they would on scrap.
export function dab(item, paperHex, more = "") {
  const coats = item.coats?.length ? item.coats : [{ coats: 1, hex: item.hex }];
  return h(
    "span",
    { class: `dab ${more}`, "aria-hidden": "true", style: paperHex ? { "background-color": paperHex } : {} },
    item.pattern?.length
      ? patternOf(item)
      : coats.map((coat) =>
          h("i", { class: `coat coat-${coat.coats}`, style: { "background-color": coat.hex } }),
        ),
    item.rough ? h("i", { class: "shine" }) : null,
  );
}

function patternOf(item) {
  let from = 0;
  const stops = item.pattern.map((part) => {
    const start = from;
    from += part.share * 100;
    return `${part.hex} ${start.toFixed(1)}% ${from.toFixed(1)}%`;
  });
  return h("i", {
    class: "coat coat-1",
    style: { background: `linear-gradient(115deg, ${stops.join(", ")})` },
  });
}

// A blend as the ink model predicts it, step by step.
export function strip(swatches, more = "") {
  const stops = swatches.map(
    (one, place) => `${one.hex} ${((place / (swatches.length - 1)) * 100).toFixed(1)}%`,
  );
  return h("span", {
    class: `strip ${more}`,
    "aria-hidden": "true",
    style: { "background-image": `linear-gradient(90deg, ${stops.join(", ")})` },
  });
}

export const chip = (hex, more = "") =>
  h("span", { class: `chip ${more}`, "aria-hidden": "true", style: { "background-color": hex } });

// How far a reading can be trusted, with its CIEDE2000 behind it; the limits are our own judgement.
export const sureWords = (uncertainty) => {
  const words = uncertainty <= 2 ? "sure" : uncertainty <= 5 ? "fairly sure" : "rough";
  return `${words} (±${uncertainty.toFixed(1)})`;
};

export const labText = (lab) => `L* ${lab[0].toFixed(1)}  a* ${lab[1].toFixed(1)}  b* ${lab[2].toFixed(1)}`;
