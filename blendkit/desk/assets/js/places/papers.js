// Papers: which card stock, ribbon and ink go with the image colours, as mock cards under a light.

import { get } from "../api.js";
import { card } from "../card.js";
import { h, put } from "../dom.js";
import { EYES, LIGHTS } from "../facts.js";
import { segments, tick } from "../fields.js";
import { finder } from "../finder.js";
import { go } from "../go.js";
import { isEmpty } from "../empty.js";
import { faultBlock } from "../notice.js";
import { loadDrawer, store } from "../store.js";
import { chip } from "../swatch.js";

const lightWords = Object.fromEntries(LIGHTS.map(([light, words]) => [light, words.toLowerCase()]));
const MOST = 4;
const KEPT = "blendkit-image-colours";

export async function open(root, params) {
  await loadDrawer();
  document.dispatchEvent(new Event("blendkit-drawer"));
  if (
    isEmpty(root, "Papers", "Papers are matched to the colours of your markers, and the drawer has none yet.")
  )
    return { refresh: () => store.state.counts.marker && go("papers", {}, { again: true }) };
  const asked = params.getAll("colour");
  const kept = JSON.parse(sessionStorage.getItem(KEPT) || "[]");
  const view = {
    colours: asked.length ? asked : kept.length ? kept : first(),
    light: "D65",
    eyes: "",
    large: false,
    answer: null,
    matchFor: 0,
    chosen: 0,
  };
  const left = h("div", { class: "image-colours" });
  const stage = h("div", { class: "cards", "aria-live": "polite" });
  const verdicts = h("section", { class: "verdicts", "aria-label": "Verdicts", tabindex: "0" });
  const lightBar = h(
    "div",
    { class: "light-bar" },
    h(
      "div",
      {},
      h("span", { class: "bar-label" }, "Under"),
      segments("Light", LIGHTS.slice(1), view.light, (light) => ((view.light = light), paintCards())),
    ),
    h(
      "div",
      {},
      h("span", { class: "bar-label" }, "Seen by"),
      segments("Kind of eyes", EYES, view.eyes, (eyes) => ((view.eyes = eyes), paintCards())),
    ),
  );
  put(
    root,
    h("h1", { class: "unseen" }, "Papers"),
    h("div", { class: "papers-grid" }, left, h("div", { class: "papers-main" }, lightBar, stage), verdicts),
  );

  function first() {
    const names = store.drawer.markers.map((one) => one.name);
    return [names[0], names[Math.floor(names.length / 3)], names[Math.floor((2 * names.length) / 3)]].filter(
      Boolean,
    );
  }

  function showColours() {
    const add = finder({
      label: "Add a colour of the image",
      hint: "marker, #c8553d …",
      choose: (text) => text && change([...view.colours, text].slice(-MOST)),
    });
    put(
      left,
      h("h2", {}, "The image"),
      h("p", { class: "soft small" }, "Its main colours, the most important first."),
      h(
        "ol",
        { class: "picked" },
        view.colours.map((name, place) => {
          const item = store.drawer.byName.get(name.toLowerCase());
          const seen = view.answer?.image.find((one) => one.name === name) || item;
          return h(
            "li",
            { style: seen ? { "background-color": seen.hex, color: seen.text } : {} },
            h(
              "button",
              {
                type: "button",
                class: "plain inherit",
                "aria-pressed": String(view.matchFor === place),
                on: { click: () => ((view.matchFor = place), showColours(), loadMatches()) },
              },
              name,
            ),
            h(
              "button",
              {
                type: "button",
                class: "plain inherit close",
                "aria-label": `Leave ${name} out`,
                disabled: view.colours.length < 2,
                on: { click: () => change(view.colours.filter((_, other) => other !== place)) },
              },
              "×",
            ),
          );
        }),
      ),
      view.colours.length < MOST ? add.element : null,
      tick("The greeting is large", view.large, (large) => {
        view.large = large;
        load();
      }),
    );
  }

  function change(colours) {
    view.colours = [...new Set(colours)];
    view.matchFor = Math.min(view.matchFor, view.colours.length - 1);
    sessionStorage.setItem(KEPT, JSON.stringify(view.colours));
    load();
  }

  let turn = 0;
  async function load() {
    const mine = ++turn;
    showColours();
    if (!view.colours.length)
      return put(stage, h("p", { class: "nothing" }, "Add a colour of the image first."));
    try {
      const answer = await get("/papers", {
        colours: view.colours,
        on: store.on,
        large_greeting: String(view.large),
        count: 6,
      });
      if (mine !== turn) return;
      view.answer = answer;
      showColours();
      await Promise.all([paintCards(), loadMatches()]);
    } catch (error) {
      put(stage, faultBlock(error));
      put(verdicts);
    }
  }

  async function paintCards() {
    const { schemes, image, on, words } = view.answer;
    if (!schemes.length) return put(stage, h("p", { class: "nothing" }, words.join(" ")));
    const names = new Set([on, ...image.map((one) => one.name)]);
    for (const one of schemes)
      for (const name of [one.base.name, one.mat.name, one.accent.name, one.checks.greeting?.ink.name])
        if (name) names.add(name);
    const known = [...names].filter(
      (name) => store.drawer.byName.has(name.toLowerCase()) || image.some((one) => one.name === name),
    );
    const looks = await get("/looks", { names: known, on: store.on, light: view.light, vision: view.eyes });
    const paint = (name) =>
      looks.colours[name] || { hex: store.drawer.paper.hex, deeper: store.drawer.paper.hex };
    stage.style.setProperty("--wall", looks.wall);
    stage.dataset.light = view.light;
    stage.dataset.eyes = view.eyes;
    put(
      stage,
      schemes.map((scheme) => schemeCard(scheme, image, on, paint)),
    );
  }

  function schemeCard(scheme, image, on, paint) {
    const { checks } = scheme;
    const greeting = checks.greeting;
    const says = [
      `${scheme.base.name} carries the card`,
      `${scheme.mat.name} is the mat`,
      `${scheme.accent.name} the accent`,
      greeting ? `greeting in ${greeting.ink.name}` : "no ink for a greeting",
    ].join(", ");
    return h(
      "article",
      { class: `scheme ${checks.passed ? "passes" : "misses"}` },
      card({
        base: scheme.base.name,
        mat: scheme.mat.name,
        accent: scheme.accent.name,
        panel: on,
        image: image.map((one) => one.name),
        greeting: greeting?.ink.name,
        paint,
        words: says,
      }),
      h("h3", {}, scheme.relation),
      h("p", { class: "why" }, scheme.words),
      h(
        "ul",
        { class: "scheme-papers" },
        [
          ["base", scheme.base],
          ["mat", scheme.mat],
          ["accent", scheme.accent],
        ].map(([role, one]) =>
          h("li", {}, chip(paint(one.name).hex), h("span", {}, one.name), h("small", {}, role)),
        ),
        greeting
          ? h(
              "li",
              {},
              chip(paint(greeting.ink.name).hex),
              h("span", {}, greeting.ink.name),
              h("small", {}, `greeting ${greeting.contrast_wcag.toFixed(1)} : 1`),
            )
          : null,
      ),
      h(
        "p",
        { class: checks.passed ? "verdict good" : "verdict bad" },
        checks.passed ? "Every check holds" : `Near miss: ${checks.words.join("; ")}`,
      ),
    );
  }

  let matchTurn = 0;
  async function loadMatches() {
    const mine = ++matchTurn;
    const colour = view.colours[view.matchFor];
    const answer = await get("/match", { colour, on: store.on, count: 14 });
    if (mine !== matchTurn) return;
    put(
      verdicts,
      h(
        "h2",
        {},
        "Matches for ",
        h("span", { class: "verdict-target" }, chip(answer.target.hex), answer.target.name),
      ),
      h("p", { class: "soft small" }, answer.words.join(" ")),
      h(
        "ul",
        { class: "match-list" },
        answer.matches.map((one) =>
          h(
            "li",
            {},
            h(
              "span",
              { class: "match-pair", "aria-hidden": "true" },
              h("i", { style: { "background-color": answer.target.hex } }),
              h("i", { style: { "background-color": one.hex } }),
            ),
            h("span", { class: "match-name" }, h("strong", {}, one.name), h("small", {}, one.kind)),
            h("span", { class: `match-verdict v-${one.verdict.replace(" ", "-")}` }, one.verdict),
            h("span", { class: "match-words" }, one.words),
            h(
              "details",
              { class: "match-lights" },
              h("summary", {}, "why?"),
              h("span", {}, `difference (CIEDE2000): ${one.delta_e_2000.toFixed(1)}`),
              Object.entries(one.by_light).map(([light, value]) =>
                h(
                  "span",
                  { class: one.parts_under.includes(light) ? "parts" : "" },
                  `${lightWords[light]} ${value.toFixed(1)}`,
                ),
              ),
              h("span", {}, `contrast ${one.contrast_wcag.toFixed(1)}`),
            ),
          ),
        ),
      ),
    );
  }

  await load();
  return {
    refresh: async () => {
      await loadDrawer();
      document.dispatchEvent(new Event("blendkit-drawer"));
      load();
    },
    update: (fresh) => {
      const colours = fresh.getAll("colour");
      if (colours.length) change(colours);
    },
  };
}
