// Adding, importing, earlier versions, and the welcome of an empty drawer.

import { get, post, send } from "./api.js";
import { after, h, put } from "./dom.js";
import { FINISHES, LIGHTS, PALETTES } from "./facts.js";
import { choice, dropZone, field, text, values } from "./fields.js";
import { go } from "./go.js";
import { dialog, faultBlock, faultNotice, notice } from "./notice.js";
import { fromSwatchCard } from "./picker.js";
import { accept, store } from "./store.js";
import { chip } from "./swatch.js";

const KIND_WORDS = { marker: "marker", paper: "card stock", ribbon: "ribbon", ink: "stamp ink" };
const lights = LIGHTS.map(([light, words]) => [light, `${light}, ${words.toLowerCase()}`]);
const undo = () => post("/undo").then(accept).catch(faultNotice);

// Fields for a colour: typed or picked, with what an instrument says beside it.
export function colourFields(value) {
  const spot = chip("#ffffff", "try");
  const words = h(
    "small",
    { "aria-live": "polite" },
    "A hex colour, or a measured Lab such as 52.1, 38.4, 20.9",
  );
  const input = text("colour", value, {
    required: true,
    placeholder: "#c8553d  or  L, a, b",
    maxlength: "120",
  });
  const picker = h("input", {
    type: "color",
    value: "#c8553d",
    "aria-label": "Pick the colour",
    on: { input: () => ((input.value = picker.value), look()) },
  });
  const light = choice("light", lights, "D50");
  const observer = choice(
    "observer",
    [
      ["2", "2°"],
      ["10", "10°"],
    ],
    "2",
  );
  const look = after(120, async () => {
    if (!input.value.trim()) return;
    try {
      const seen = await get("/colour", {
        colour: input.value,
        light: light.value,
        observer: observer.value,
      });
      spot.style.backgroundColor = seen.hex;
      words.textContent = `${seen.words}${seen.mapped ? ", stronger than this screen can show" : ""}`;
      input.setCustomValidity("");
    } catch (error) {
      words.textContent = error.message;
    }
  });
  for (const one of [input, light, observer]) one.addEventListener("input", look);
  return [
    h("div", { class: "colour-row" }, spot, field("Colour", input), picker),
    words,
    h(
      "details",
      { class: "inner" },
      h("summary", {}, "It was measured with an instrument"),
      h(
        "div",
        { class: "row" },
        field("Light", light),
        field("Observer", observer),
        field(
          "May be off by",
          h("input", { type: "number", name: "uncertainty", min: "0", max: "20", step: "0.1" }),
        ),
      ),
      field("How it was measured", text("setup")),
    ),
  ];
}

export function addThing(kind = "marker") {
  return dialog(`Add a ${KIND_WORDS[kind]}`, (close) => {
    const faults = h("div");
    const kinds = choice("kind", Object.entries(KIND_WORDS), kind);
    const forMarker = h(
      "div",
      {},
      field(
        "Swatch lies on",
        choice("on_paper", [["", "not stated"], ...store.state.papers], store.state.usual_paper),
      ),
    );
    const forPaper = h(
      "div",
      {},
      field(
        "Coats it takes",
        h("input", { type: "number", name: "coat_limit", min: "1", max: "20", value: "4" }),
      ),
    );
    const show = () => {
      forMarker.hidden = kinds.value !== "marker";
      forPaper.hidden = kinds.value !== "paper";
    };
    kinds.addEventListener("change", show);
    show();
    const form = h(
      "form",
      {
        on: {
          submit: async (event) => {
            event.preventDefault();
            const given = values(event.target);
            const body = {
              name: given.name,
              kind: given.kind,
              colour: given.colour,
              light: given.light,
              observer: Number(given.observer),
              setup: given.setup,
              family: given.family,
              finish: given.finish,
              note: given.note,
            };
            if (given.uncertainty) body.uncertainty = Number(given.uncertainty);
            if (given.kind === "marker" && store.state.papers.includes(given.on_paper))
              body.on_paper = given.on_paper;
            if (given.kind === "paper" && given.coat_limit) body.coat_limit = Number(given.coat_limit);
            try {
              accept(await post("/items/add", body));
              notice(`${given.name} is in the drawer.`, { action: { words: "Undo", run: undo } });
              put(faults);
              if (event.submitter?.value !== "another") return close();
              for (const key of ["name", "colour", "note"]) form.elements[key].value = "";
              form.elements.name.focus();
            } catch (error) {
              put(faults, faultBlock(error));
            }
          },
        },
      },
      faults,
      h(
        "div",
        { class: "row" },
        field("What is it?", kinds),
        field(
          "Name",
          text("name", "", { required: true, maxlength: "100", autofocus: true }),
          "As written on it, or as you call it.",
        ),
      ),
      colourFields(""),
      forMarker,
      forPaper,
      h(
        "div",
        { class: "row" },
        field(
          "Family",
          text("family", "", { list: "add-families" }),
          "Light and dark of one hue share a family.",
        ),
        field("Finish", choice("finish", FINISHES, FINISHES[0])),
      ),
      h(
        "datalist",
        { id: "add-families" },
        (store.drawer?.families || []).map((one) => h("option", { value: one })),
      ),
      field("Note", text("note")),
      h(
        "div",
        { class: "dialog-acts" },
        h("button", { type: "button", on: { click: () => close() } }, "Cancel"),
        h("button", { type: "submit", value: "another" }, "Put it in, then another"),
        h("button", { type: "submit", class: "main" }, "Put it in the drawer"),
      ),
    );
    return form;
  });
}

export function importFile() {
  return dialog(
    "Import a file",
    (close) => {
      const found = h("div", { class: "found", "aria-live": "polite" });
      const kinds = choice("kind", Object.entries(KIND_WORDS), "marker");
      const take = async ([file]) => {
        put(found, h("p", { class: "soft" }, `Reading ${file.name} …`));
        try {
          const answer = await send("/import", { kind: kinds.value }, file);
          const keep = async () => {
            try {
              const kept = await send("/import", { kind: kinds.value, keep: "true" }, file);
              accept(kept.state);
              notice(`${kept.kept} things from ${file.name} are in the drawer.`, {
                action: { words: "Undo", run: undo },
              });
              close();
            } catch (error) {
              put(found, faultBlock(error));
            }
          };
          put(
            found,
            h(
              "p",
              {},
              h("strong", {}, `${answer.fresh.length} of ${answer.found}`),
              " things in this file are new to the drawer.",
            ),
            h(
              "ul",
              { class: "notes" },
              answer.notes.map((note) => h("li", {}, note)),
            ),
            h(
              "ul",
              { class: "import-list" },
              answer.fresh.map((one) => h("li", {}, chip(one.hex), one.name, h("small", {}, one.kind))),
            ),
            h(
              "div",
              { class: "dialog-acts" },
              h(
                "button",
                { type: "button", class: "main", disabled: !answer.fresh.length, on: { click: keep } },
                `Add ${answer.fresh.length} to the drawer`,
              ),
            ),
          );
        } catch (error) {
          put(found, faultBlock(error));
        }
      };
      return h(
        "div",
        {},
        h("p", {}, "A palette file of blendkit (CSV), a GIMP palette (.gpl), or measurements as CGATS text."),
        field("Where the file doesn't say, its colours are", kinds),
        dropZone("Drop a file here, or choose one", PALETTES, take),
        found,
      );
    },
    { wide: true },
  );
}

const drawerVersions = {
  list: () => get("/versions"),
  restore: (name) => post("/versions/restore", { name }),
  taken: (state) => {
    accept(state);
    notice("An earlier version is back.", { action: { words: "Undo", run: undo } });
  },
};

// Earlier versions of the drawer, or of what `of` lists and restores, each with what had been done last.
export async function showVersions(of = drawerVersions) {
  let versions;
  try {
    ({ versions } = await of.list());
  } catch (error) {
    return faultNotice(error);
  }
  return dialog("Earlier versions", (close) =>
    h(
      "div",
      {},
      h(
        "p",
        {},
        "Every change keeps the file as it was before, in a folder beside it. Putting one back " +
          "keeps today's version too.",
      ),
      versions.length
        ? h(
            "ul",
            { class: "versions" },
            versions.map((one) =>
              h(
                "li",
                {},
                h(
                  "span",
                  {},
                  h("b", {}, one.after ? `After “${one.after}”` : "As it came to this desk"),
                  ", until ",
                  h("time", { datetime: one.replaced }, new Date(one.replaced).toLocaleString()),
                ),
                h(
                  "button",
                  {
                    type: "button",
                    on: {
                      click: async () => {
                        try {
                          of.taken(await of.restore(one.name));
                          close();
                        } catch (error) {
                          faultNotice(error);
                        }
                      },
                    },
                  },
                  "Put back",
                ),
              ),
            ),
          )
        : h("p", { class: "nothing" }, "There is none yet."),
    ),
  );
}

export function welcome() {
  const card = (title, words, button) =>
    h("li", { class: "way" }, h("h3", {}, title), h("p", {}, words), button);
  const demo = async () => {
    try {
      accept(await post("/demo"));
      notice("The invented demo drawer is in your file. Undo takes it out again.", {
        action: { words: "Undo", run: undo },
      });
    } catch (error) {
      faultNotice(error);
    }
  };
  return h(
    "div",
    { class: "welcome" },
    h(
      "div",
      { class: "empty-tray", "aria-hidden": "true" },
      Array.from({ length: 7 }, (_, place) => h("i", { class: `slot slot-${place}` })),
    ),
    h("h2", {}, "This drawer is empty"),
    h(
      "p",
      { class: "lead" },
      "Put your markers in, and every answer rests on what you own. Start with the five that you " +
        "reach for most; a colour picked by eye is enough for a first look, and a coloured chart " +
        "makes it true later.",
    ),
    h(
      "ul",
      { class: "ways" },
      card(
        "Type a few",
        "A name and a colour each. Two minutes for the first five.",
        h(
          "button",
          { type: "button", class: "main", on: { click: () => addThing("marker") } },
          "Add a marker",
        ),
      ),
      card(
        "Click in a photo",
        "Of a swatch card that you coloured once: each click is a marker, you type its name.",
        h("button", { type: "button", on: { click: () => fromSwatchCard() } }, "Open a swatch card"),
      ),
      card(
        "Bring a file",
        "A spreadsheet saved as CSV, a GIMP palette, or what a colorimeter wrote.",
        h("button", { type: "button", on: { click: () => importFile() } }, "Import a file"),
      ),
      card(
        "Read a coloured chart",
        "Add markers with a rough colour, print a chart, colour its boxes, photograph it: the " +
          "true colours are read for you.",
        h("button", { type: "button", on: { click: () => go("scrap") } }, "To the scrap test"),
      ),
      card(
        "Look around first",
        "134 invented markers and 40 papers, to try everything with. They can be taken out again " +
          "in one step.",
        h("button", { type: "button", on: { click: demo } }, "Fill it with the demo"),
      ),
    ),
    h(
      "p",
      { class: "soft" },
      "Kept in ",
      h("code", {}, `${store.state.folder}/${store.state.palette}`),
      ", a plain file that any spreadsheet opens.",
    ),
  );
}
