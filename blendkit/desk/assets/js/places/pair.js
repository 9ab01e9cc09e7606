// Pair: a colour, what shades it, what lights it, why, and in what order the inks go down.

import { get } from "../api.js";
import { h, plural, put } from "../dom.js";
import { field, segments, tick } from "../fields.js";
import { LEANS } from "../facts.js";
import { finder } from "../finder.js";
import { go } from "../go.js";
import { isEmpty } from "../empty.js";
import { faultBlock } from "../notice.js";
import { plot } from "../plot.js";
import { pickFromPicture } from "../picker.js";
import { loadDrawer, store } from "../store.js";
import { labText, strip } from "../swatch.js";

const HOW = { marker: "", coats: "more coats", over: "laid over", under: "laid under" };
const BLENDER = [
  ["fade", "Fade to white with the blender"],
  ["lift", "Lift the highlight with it"],
];
const STYLES = [
  ["light-first", "Light first"],
  ["dark-first", "Dark first"],
];

export async function open(root, params) {
  await loadDrawer();
  document.dispatchEvent(new Event("blendkit-drawer"));
  if (isEmpty(root, "Pair", "Shadows and lights come from your own markers, and the drawer has none yet."))
    return { refresh: () => store.state.counts.marker && go("pair", {}, { again: true }) };
  const view = {
    colour:
      params.get("colour") ||
      sessionStorage.getItem("blendkit-colour") ||
      store.drawer.markers[0]?.name ||
      "#c8553d",
    lean: "none",
    low: 10,
    high: 25,
    style: "light-first",
    blender: [],
    chosen: null,
    answer: null,
  };
  const left = h("div", { class: "pair-base" });
  const shadows = h("section", { class: "companions", "aria-label": "Shadows" });
  const lights = h("section", { class: "companions", "aria-label": "Lights" });
  const detail = h("section", { class: "pair-detail", "aria-label": "Layering order" });
  const hero = h("div", { class: "hero" });
  const chart = h("div");
  const picker = h("input", {
    type: "color",
    value: "#c8553d",
    "aria-label": "Pick any colour",
    on: { change: () => ask(picker.value) },
  });
  const search = finder({
    label: "A marker, or any colour",
    value: view.colour,
    hint: "name, #c8553d, lab(52 38 21)",
    choose: (text) => text && ask(text),
  });
  const options = h(
    "details",
    { class: "options" },
    h("summary", {}, "How the shadow should be"),
    h(
      "div",
      { class: "lean" },
      h("span", {}, "It leans"),
      segments("The shadow leans", LEANS, view.lean, (lean) => ((view.lean = lean), load())),
    ),
    h("div", { class: "row" }, limit("At least darker by", "low"), limit("At most darker by", "high")),
    h("p", { class: "soft small" }, "On a scale from black, 0, to white, 100."),
  );
  put(
    left,
    h("h1", { class: "unseen" }, "Pair"),
    hero,
    h("div", { class: "ask" }, search.element, picker),
    h(
      "button",
      {
        type: "button",
        class: "wide",
        on: {
          click: async () => {
            const hex = await pickFromPicture();
            if (hex) ask(hex);
          },
        },
      },
      "Pick it from a photo",
    ),
    options,
  );
  put(
    root,
    h("div", { class: "pair-grid" }, left, detail, h("div", { class: "pair-lists" }, shadows, lights)),
  );

  function limit(label, key) {
    return field(
      label,
      h("input", {
        type: "number",
        min: "1",
        max: "100",
        value: view[key],
        on: { change: (event) => ((view[key] = Number(event.target.value) || view[key]), load()) },
      }),
    );
  }

  function ask(colour) {
    go("pair", { colour });
  }

  let controller = null;
  async function load() {
    controller?.abort();
    controller = new AbortController();
    sessionStorage.setItem("blendkit-colour", view.colour);
    try {
      const asked = {
        colour: view.colour,
        on: store.on,
        lean: view.lean,
        low: view.low,
        high: view.high,
        count: 5,
      };
      const answer = await get("/pair", { ...asked, all_ways: "false" }, controller.signal);
      view.answer = answer;
      const kept =
        view.chosen &&
        [...answer.shadow, ...answer.light].find(
          (one) => one.name === view.chosen.name && one.how === view.chosen.how,
        );
      const markers = answer.shadow.filter((one) => one.how === "marker");
      view.chosen = kept || markers.find((one) => one.fits) || answer.shadow[0] || answer.light[0] || null;
      show();
      root.dataset.shown = view.colour;
      await loadOrder();
      // More coats, over and under take longer to find, so they come once the markers stand there.
      if (!answer.shadow.some((one) => one.how !== "marker")) {
        const { shadow } = await get("/pair", { ...asked, all_ways: "true" }, controller.signal);
        answer.shadow.push(...shadow.filter((one) => one.how !== "marker"));
        showWays();
      }
    } catch (error) {
      if (error.name === "AbortError") return;
      put(shadows, faultBlock(error));
      put(lights);
      put(detail);
    }
  }

  function show() {
    const { base, answer } = { base: view.answer.base, answer: view.answer };
    search.set(view.colour);
    if (base.hex) picker.value = base.hex;
    put(
      hero,
      h(
        "div",
        { class: "hero-paper", style: { "background-color": store.drawer.paper.hex } },
        h(
          "div",
          { class: "hero-ink", style: { "background-color": base.hex, color: base.text } },
          h("strong", {}, base.name),
          h("span", {}, answer.words_for_base),
          base.mapped ? h("span", { class: "numbers" }, "stronger than this screen can show") : null,
        ),
      ),
    );
    const count = (some, none) =>
      h(
        "span",
        { class: "count" },
        some.some((one) => one.fits) ? plural(some.filter((one) => one.fits).length, "fits", "fit") : none,
      );
    const markers = near(answer.shadow.filter((one) => one.how === "marker")).slice(0, 4);
    const light = near(answer.light).slice(0, 4);
    put(
      shadows,
      h("h2", {}, "Shadows ", count(markers, "no marker fits, nearest first")),
      list(markers),
      others,
    );
    showWays();
    put(lights, h("h2", {}, "Lights ", count(light, "none fits: leave bare paper")), list(light));
    put(chart, plot(answer, view.chosen, store.drawer.markers));
  }

  // What fits; near misses only where nothing does.
  function near(companions) {
    const fitting = companions.filter((one) => one.fits);
    return fitting.length ? fitting : companions.slice(0, 3);
  }

  const others = h("div", { class: "ways-list" });
  function showWays() {
    // The best of more coats, and the best of laying another marker over or under.
    const found = view.answer.shadow.filter((one) => one.how !== "marker");
    const ways = [found.find((one) => one.how === "coats"), found.find((one) => one.how !== "coats")].filter(
      Boolean,
    );
    put(others, ways.length ? [h("h3", {}, "Or without another shadow marker"), list(ways)] : []);
  }

  function list(companions) {
    if (!companions.length) return h("p", { class: "nothing" }, "Nothing in the drawer comes near.");
    return h("ol", {}, companions.map(row));
  }

  function row(one) {
    const title = one.how === "coats" ? `${one.coats} coats of ${one.name}` : one.name;
    return h(
      "li",
      {},
      h(
        "button",
        {
          type: "button",
          class: `companion ${one.fits ? "fits" : "miss"}`,
          "aria-pressed": String(one === view.chosen),
          on: { click: () => choose(one) },
        },
        strip(one.blend),
        h(
          "span",
          { class: "companion-name" },
          h("strong", {}, title),
          HOW[one.how] ? h("em", {}, HOW[one.how]) : null,
        ),
        h("span", { class: "score" }, h("small", {}, one.fits ? "fits" : "near miss")),
        h("span", { class: "why" }, one.reasons.words),
      ),
    );
  }

  function choose(one) {
    view.chosen = one;
    show();
    const pressed = root.querySelector('.companion[aria-pressed="true"]');
    pressed?.focus({ preventScroll: true });
    loadOrder();
  }

  let why = false; // whether the figures are unfolded; they stay so from one answer to the next
  let orderTurn = 0;
  async function loadOrder() {
    const mine = ++orderTurn;
    const { answer, chosen } = view;
    const shading = chosen && answer.shadow.includes(chosen);
    const light = chosen && answer.light.includes(chosen);
    const base = light ? chosen.name : answer.base.name;
    // More coats of a colour are the same marker named again.
    const again = shading && chosen.how === "coats" ? chosen.coats - 1 : 1;
    const shadowNames = light ? [answer.base.name] : shading ? Array(again).fill(chosen.name) : [];
    try {
      const order = await get("/order", {
        base,
        shadows: shadowNames,
        on: store.on,
        style: view.style,
        lean: view.lean,
        low: view.low,
        high: view.high,
        how: shading && ["over", "under"].includes(chosen.how) ? chosen.how : "marker",
        blender: view.blender,
      });
      if (mine === orderTurn) showOrder(order);
    } catch (error) {
      if (mine === orderTurn) put(detail, faultBlock(error));
    }
  }

  function showOrder(order) {
    const { chosen, answer } = view;
    const reasons = chosen?.reasons;
    put(
      detail,
      chosen ? lead(chosen, answer) : null,
      h(
        "div",
        { class: "order-head" },
        h("h2", {}, "In this order"),
        chosen && chosen.how !== "marker"
          ? null
          : segments("Way of working", STYLES, view.style, (style) => ((view.style = style), loadOrder())),
        store.state.blenders.length ? h("span", { class: "blender-ways" }, BLENDER.map(blenderWay)) : null,
        h(
          "p",
          { class: "soft" },
          `${order.on} takes ${plural(order.coat_limit, "coat")}; ` +
            `its wettest place gets ${plural(order.coats, "coat")}.`,
        ),
      ),
      h(
        "ol",
        { class: "steps" },
        order.steps.map((step) =>
          h(
            "li",
            {},
            h(
              "span",
              {
                class: "step-ink",
                style: step.hex ? { "background-color": step.hex, color: step.text } : {},
              },
              h("b", {}, step.number),
              h("small", { class: "on-ink" }, step.do),
            ),
            h("strong", {}, step.marker),
            h("span", { class: "where" }, step.where),
            step.so_far ? h("small", { class: "so-far" }, step.so_far) : null,
            step.caution ? h("em", { class: "caution" }, step.caution) : null,
          ),
        ),
      ),
      h(
        "p",
        { class: "order-words" },
        [order.words[0], ...(view.blender.length ? order.words.slice(-2) : [])].join(" "),
      ),
      reasons ? numbers(chosen, reasons, answer) : null,
      answer.trios.length
        ? h(
            "div",
            { class: "trios" },
            h("h3", {}, "Light, mid and dark"),
            h(
              "ul",
              {},
              answer.trios.map((trio) =>
                h(
                  "li",
                  {},
                  [trio.light, trio.mid, trio.dark].map((one) =>
                    h(
                      "span",
                      { class: "trio-part", style: { "background-color": one.hex, color: one.text } },
                      one.name,
                    ),
                  ),
                ),
              ),
            ),
          )
        : null,
    );
  }

  const blenderWay = ([way, words]) =>
    tick(words, view.blender.includes(way), (on) => {
      view.blender = on ? [...view.blender, way] : view.blender.filter((one) => one !== way);
      loadOrder();
    });

  // The blend, and one plain sentence about it.
  function lead(chosen, answer) {
    const named = chosen.how === "coats" ? `${chosen.coats} coats of ${chosen.name}` : chosen.name;
    const verb = answer.light.includes(chosen) ? "lightens" : "shades";
    const words = chosen.fits ? `${named} ${verb} it.` : `Nothing fits; ${named} comes nearest.`;
    return h(
      "div",
      { class: "lead-blend" },
      strip(chosen.blend),
      h("p", {}, h("strong", {}, words), " ", chosen.reasons.words),
    );
  }

  function numbers(chosen, reasons, answer) {
    const fact = (term, value) => h("div", {}, h("dt", {}, term), h("dd", {}, value));
    const off = (value) => (value === null ? "–" : Math.abs(value).toFixed(1));
    return h(
      "details",
      { class: "why-numbers", open: why, on: { toggle: (event) => (why = event.target.open) } },
      h("summary", {}, "Why?"),
      chosen.caution ? h("p", { class: "caution" }, chosen.caution) : null,
      h("div", { class: "why-plot" }, chart),
      h(
        "dl",
        {},
        fact("This colour", `${labText(answer.base.lab)}, ${answer.base.hex}`),
        fact("Score, of 100; from 70 it fits", Math.floor(chosen.score)),
        fact("Step in lightness", `${reasons.lightness_step.toFixed(1)} L*`),
        fact("Off the shade line, hue", off(reasons.series_hue)),
        fact("Off it, vividness", `${reasons.series_chroma > 0 ? "+" : "−"}${off(reasons.series_chroma)}`),
        fact(
          "Evenness of the blend",
          reasons.blend_evenness === null ? "–" : `${Math.round(reasons.blend_evenness * 100)} %`,
        ),
        fact("Muddiness", reasons.blend_dip === null ? "–" : reasons.blend_dip.toFixed(1)),
        fact(
          "Markers between",
          reasons.in_between
            ? reasons.in_between_markers.slice(0, reasons.in_between).join(", ") ||
                `${reasons.in_between}, none in the drawer`
            : "none needed",
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
      view.colour = fresh.get("colour") || view.colour;
      view.chosen = null;
      load();
    },
    close: () => controller?.abort(),
  };
}
