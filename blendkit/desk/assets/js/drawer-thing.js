// One thing of the drawer: its coats, its readings, and forms that change it.

import { get, post } from "./api.js";
import { h, put } from "./dom.js";
import { area, choice, field, text, values } from "./fields.js";
import { go } from "./go.js";
import { faultNotice, notice } from "./notice.js";
import { FINISHES } from "./facts.js";
import { accept, loadDrawer, store } from "./store.js";
import { dab, labText, sureWords } from "./swatch.js";
import { colourFields } from "./drawer-dialogs.js";

// With `keep` a thing that is shown already, and hasn't changed, stays as it is: somebody may be typing in
// its forms.
export async function showThing(panel, name, close, keep = false) {
  const [{ item, readings, earlier }] = await Promise.all([
    get("/item", { name, on: store.on }),
    loadDrawer(),
  ]);
  const shown = `${item.name} ${item.was} ${store.on}`;
  if (keep && panel.dataset.shown === shown) return;
  panel.dataset.shown = shown;
  const marker = item.kind === "marker";
  const save = async (path, body, done) => {
    try {
      const state = await post(path, { name: item.name, was: item.was, ...body });
      accept(state);
      notice(done, { action: { words: "Undo", run: undo } });
      return true;
    } catch (error) {
      if (error.status === 409) {
        faultNotice(error);
        accept(store.state);
      } else faultNotice(error);
      return false;
    }
  };
  const undo = () => post("/undo").then(accept).catch(faultNotice);

  const head = h(
    "div",
    { class: "thing-head" },
    h(
      "button",
      { type: "button", class: "plain close", "aria-label": `Close ${item.name}`, on: { click: close } },
      "×",
    ),
    dab(item, marker ? store.drawer.paper.hex : null, `large ${item.kind}`),
    h("h2", { tabindex: "-1" }, item.name),
    h("p", {}, item.words, item.mapped ? " — stronger than this screen can show" : ""),
    marker
      ? h(
          "ol",
          { class: "coats", "aria-label": `Coats on ${store.drawer.on}` },
          item.coats.map((coat) =>
            h(
              "li",
              { style: { "background-color": coat.hex, color: coat.text } },
              h("b", {}, coat.coats),
              h("span", {}, coat.measured ? "measured" : "predicted"),
            ),
          ),
        )
      : null,
  );
  const acts = h(
    "div",
    { class: "thing-acts" },
    marker
      ? h(
          "button",
          { type: "button", class: "main", on: { click: () => go("pair", { colour: item.name }) } },
          "Find its shadow and light",
        )
      : null,
    h(
      "button",
      { type: "button", on: { click: () => go("papers", { colour: item.name }) } },
      "Papers that go with it",
    ),
  );
  const facts = h(
    "dl",
    { class: "facts" },
    readings.map((one) => [
      h("dt", {}, marker ? `${one.coats} coat${one.coats > 1 ? "s" : ""}` : "Colour"),
      h(
        "dd",
        {},
        labText(one.lab),
        h(
          "small",
          {},
          [
            one.has_spectrum ? "spectrum" : one.typed.startsWith("#") ? `typed as ${one.typed}` : "measured",
            one.uncertainty && sureWords(one.uncertainty),
            one.setup,
            one.measured,
          ]
            .filter(Boolean)
            .join(" · "),
        ),
      ),
    ]),
    marker && item.on ? [h("dt", {}, "Swatch on"), h("dd", {}, item.on)] : null,
    item.kind === "paper" ? [h("dt", {}, "Takes"), h("dd", {}, `${item.coat_limit} coats`)] : null,
    item.pattern?.length
      ? [
          h("dt", {}, "Pattern"),
          h(
            "dd",
            {},
            item.pattern.map((part) => `${part.name} ${Math.round(part.share * 100)} %`).join(", "),
          ),
        ]
      : null,
  );

  const detailsForm = h(
    "form",
    {
      on: {
        submit: async (event) => {
          event.preventDefault();
          const given = values(event.target);
          const body = {
            new_name: given.new_name,
            family: given.family,
            finish: given.finish,
            note: given.note,
          };
          if (given.on_paper !== undefined) body.on_paper = given.on_paper;
          if (given.coat_limit) body.coat_limit = Number(given.coat_limit);
          if (await save("/items/change", body, `${given.new_name} is changed.`))
            showThing(panel, given.new_name, close).catch(close);
        },
      },
    },
    field("Name", text("new_name", item.name, { required: true, maxlength: "100" })),
    field("Family", text("family", item.family, { list: "families" })),
    h(
      "datalist",
      { id: "families" },
      store.drawer.families.map((one) => h("option", { value: one })),
    ),
    field("Finish", choice("finish", FINISHES, item.finish)),
    marker
      ? field("Swatch lies on", choice("on_paper", [["", "not stated"], ...store.state.papers], item.on))
      : null,
    item.kind === "paper"
      ? field(
          "Coats it takes",
          h("input", { type: "number", name: "coat_limit", min: "1", max: "20", value: item.coat_limit }),
        )
      : null,
    field("Note", area("note", item.note)),
    h("button", { type: "submit" }, "Keep these words"),
  );
  const measureForm = h(
    "form",
    {
      on: {
        submit: async (event) => {
          event.preventDefault();
          const given = values(event.target);
          const body = {
            colour: given.colour,
            light: given.light,
            observer: Number(given.observer),
            setup: given.setup,
            coats: Number(given.coats || 1),
          };
          if (given.uncertainty) body.uncertainty = Number(given.uncertainty);
          if (
            await save("/items/measure", body, `${item.name} has a newer measurement; the older one is kept.`)
          )
            showThing(panel, item.name, close).catch(close);
        },
      },
    },
    marker ? field("Coats of the swatch", choice("coats", ["1", "2", "3", "4"], "1")) : null,
    colourFields(""),
    h("button", { type: "submit" }, "Keep this measurement"),
  );
  put(
    panel,
    head,
    acts,
    facts,
    item.note ? h("p", { class: "thing-note" }, item.note) : null,
    item.pattern?.length ? null : h("details", {}, h("summary", {}, "Measure again"), measureForm),
    h("details", {}, h("summary", {}, "Change name and words"), detailsForm),
    earlier.length
      ? h(
          "details",
          {},
          h("summary", {}, "Older measurements"),
          h(
            "ul",
            { class: "older" },
            earlier.map((one) =>
              h(
                "li",
                {},
                `${one.replaced.slice(0, 10)}: ${one.reason}`,
                h(
                  "small",
                  {},
                  one.cells.hex ||
                    [one.cells.L, one.cells.a, one.cells.b].filter(Boolean).join(", ") ||
                    "a spectrum",
                ),
              ),
            ),
          ),
        )
      : null,
    h(
      "button",
      {
        type: "button",
        class: "plain take-out",
        on: {
          click: async () => {
            if (await save("/items/remove", {}, `${item.name} is out of the drawer.`)) close();
          },
        },
      },
      "Take it out of the drawer",
    ),
  );
  panel.scrollTop = 0;
}
