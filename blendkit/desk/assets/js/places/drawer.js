// The drawer: everything in it as swatches on the chosen paper.

import { get, post } from "../api.js";
import { after, h, put } from "../dom.js";
import { segments } from "../fields.js";
import { findNames } from "../finder.js";
import { go } from "../go.js";
import { roving } from "../keys.js";
import { faultNotice, notice } from "../notice.js";
import { fromSwatchCard } from "../picker.js";
import { accept, loadDrawer, store } from "../store.js";
import { dab } from "../swatch.js";
import { addThing, importFile, showVersions, welcome } from "../drawer-dialogs.js";
import { showThing } from "../drawer-thing.js";

const KINDS = [
  ["marker", "Markers"],
  ["paper", "Papers"],
  ["ribbon", "Ribbons"],
  ["ink", "Inks"],
];
const BY = [
  ["hue", "Hue"],
  ["family", "Family"],
  ["gap", "What is missing"],
];

export async function open(root, params) {
  const view = {
    by: sessionStorage.getItem("blendkit-by") || "hue",
    kind: "marker",
    text: "",
    chosen: params.get("name"),
  };
  const trays = h("div", { class: "trays" });
  const panel = h("aside", { class: "thing", hidden: true, "aria-label": "Details", tabindex: "0" });
  let bar = h("div");
  let loading = 0;

  const search = h("input", {
    type: "search",
    placeholder: "Search names, families, notes",
    "aria-label": "Search the drawer",
    on: { input: after(60, () => ((view.text = search.value), draw())) },
  });

  async function refresh() {
    const mine = ++loading;
    await loadDrawer();
    if (mine !== loading) return;
    document.dispatchEvent(new Event("blendkit-drawer"));
    if (store.state.is_empty) {
      put(root, h("h1", { class: "unseen" }, "Drawer"), welcome());
      return;
    }
    if (!trays.isConnected) build();
    put(bar, tools());
    await draw();
    if (view.chosen) openThing(view.chosen, false);
  }

  function build() {
    bar = h("div", { class: "tools" });
    put(
      root,
      h("h1", { class: "unseen" }, "Drawer"),
      h("div", { class: "drawer-head" }, h("div", { class: "search" }, search), bar),
      h("div", { class: "drawer-body" }, trays, panel),
    );
  }

  async function step(path) {
    try {
      const state = await post(path);
      accept(state);
      notice(state.done);
    } catch (error) {
      faultNotice(error);
    }
  }

  function tools() {
    const { counts, undo, redo, is_demo } = store.state;
    return [
      segments(
        "What to show",
        KINDS.map(([kind, words]) => [kind, `${words} ${counts[kind]}`]),
        view.kind,
        (kind) => {
          view.kind = kind;
          put(bar, tools());
          draw();
          bar.querySelector(`[data-value="${kind}"]`).focus();
        },
      ),
      view.kind === "marker"
        ? segments("Arranged by", BY, view.by, (by) => {
            view.by = by;
            sessionStorage.setItem("blendkit-by", by);
            draw();
          })
        : null,
      h(
        "div",
        { class: "acts" },
        h("button", { type: "button", class: "main", on: { click: () => addThing(view.kind) } }, "Add"),
        h("button", { type: "button", on: { click: () => fromSwatchCard() } }, "From a photo"),
        h("button", { type: "button", on: { click: () => importFile() } }, "Import"),
        h(
          "button",
          {
            type: "button",
            disabled: !undo,
            title: undo ? `Take back: ${undo}` : "Nothing to take back",
            on: { click: () => step("/undo") },
          },
          "Undo",
        ),
        h(
          "button",
          {
            type: "button",
            disabled: !redo,
            title: redo ? `Do again: ${redo}` : "Nothing to do again",
            on: { click: () => step("/redo") },
          },
          "Redo",
        ),
        h("button", { type: "button", on: { click: () => showVersions() } }, "Earlier versions"),
      ),
      is_demo
        ? h(
            "p",
            { class: "demo-note" },
            "This is the invented demo drawer. It stays as it is; open a file of your own to keep changes.",
          )
        : null,
    ];
  }

  async function draw() {
    const drawer = store.drawer;
    const hits = view.text.trim() ? new Set(findNames(view.text).map((one) => one.name)) : null;
    let groups;
    let wanted = null;
    if (view.kind === "marker") {
      const answer = await get("/drawer/trays", { on: store.on, by: view.by });
      if (view.by === "gap" && !hits) wanted = wantedTray(answer);
      groups = answer.trays.map((tray) => ({
        ...tray,
        items: tray.names.map((name) => drawer.byName.get(name.toLowerCase())),
      }));
    } else {
      const items = drawer.others.filter((one) => one.kind === view.kind);
      groups = [{ title: KINDS.find(([kind]) => kind === view.kind)[1], words: "", items }];
    }
    let count = 0;
    const sections = groups.map((tray) => {
      const items = tray.items.filter((one) => one && (!hits || hits.has(one.name)));
      count += items.length;
      if (!items.length) return null;
      return h(
        "section",
        { class: "tray" },
        h("h2", {}, tray.title, " ", h("span", { class: "count" }, items.length)),
        tray.words ? h("p", { class: "tray-words" }, tray.words) : null,
        h("ul", { class: "dabs" }, items.map(tile)),
      );
    });
    put(
      trays,
      count
        ? [wanted, sections]
        : h(
            "p",
            { class: "nothing" },
            view.text ? `Nothing in the drawer is called “${view.text}”.` : "Nothing of this kind yet.",
          ),
    );
    trays.dataset.count = count;
    roving(trays, ".tile");
  }

  // Colours that would complete families: hollow places, to look for in a shop.
  function wantedTray({ wanted, words }) {
    if (!wanted.length) return h("p", { class: "tray-words" }, words.join(" "));
    return h(
      "section",
      { class: "tray wanted" },
      h("h2", {}, "To look for"),
      h("p", { class: "tray-words" }, "one purchase, most families first"),
      h(
        "ul",
        { class: "dabs wants" },
        wanted.map((one) =>
          h(
            "li",
            {},
            h(
              "button",
              {
                type: "button",
                class: "tile",
                on: { click: () => go("pair", { colour: `lab(${one.colour.lab.join(" ")})` }) },
                title: `Closes: ${one.completes.join(", ")}`,
              },
              h(
                "span",
                { class: "hollow", "aria-hidden": "true" },
                h("i", { style: { "background-color": one.colour.hex } }),
              ),
              h("span", { class: "tile-words" }, one.words),
              h(
                "small",
                {},
                `${one.lacks} for ${one.for_base}` +
                  (one.completes.length > 1 ? ` and ${one.completes.length - 1} more` : ""),
              ),
            ),
          ),
        ),
      ),
    );
  }

  function tile(item) {
    const facts = [
      item.words,
      item.family && `family ${item.family}`,
      item.measured ? "measured" : "typed",
      item.rough && `${item.finish}, so rough`,
    ];
    return h(
      "li",
      {},
      h(
        "button",
        {
          type: "button",
          class: "tile",
          "aria-pressed": String(view.chosen === item.name),
          title: facts.filter(Boolean).join(", "),
          "data-name": item.name,
          on: { click: () => openThing(item.name) },
        },
        dab(item, item.kind === "marker" ? store.drawer.paper.hex : null, item.kind),
        h("span", { class: "tile-name" }, item.name),
      ),
    );
  }

  async function openThing(name, focus = true) {
    view.chosen = name;
    for (const button of trays.querySelectorAll(".tile"))
      button.setAttribute("aria-pressed", String(button.dataset.name === name));
    const close = () => {
      view.chosen = null;
      panel.hidden = true;
      panel.dataset.shown = "";
      root.classList.remove("with-thing");
      const button = trays.querySelector(`.tile[data-name="${CSS.escape(name)}"]`);
      button?.setAttribute("aria-pressed", "false");
      button?.focus();
    };
    try {
      await showThing(panel, name, close, !focus);
    } catch (error) {
      view.chosen = null;
      panel.hidden = true;
      if (focus) faultNotice(error);
      return;
    }
    panel.hidden = false;
    root.classList.add("with-thing");
    if (focus) panel.querySelector("h2").focus({ preventScroll: true });
  }

  panel.addEventListener(
    "keydown",
    (event) => event.key === "Escape" && panel.querySelector(".close")?.click(),
  );
  await refresh();
  return {
    refresh: () => refresh().catch(faultNotice),
    update: () => {},
    undo: () => store.state.undo && step("/undo"),
    redo: () => store.state.redo && step("/redo"),
  };
}
