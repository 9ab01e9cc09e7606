// Photo: the main colours of a picture, and what in the drawer makes them.

import { address, post, send } from "../api.js";
import { h, put } from "../dom.js";
import { dropZone, segments } from "../fields.js";
import { go } from "../go.js";
import { faultBlock, work } from "../notice.js";
import { PICTURES } from "../facts.js";
import { loadDrawer, store } from "../store.js";
import { chip, labText } from "../swatch.js";

const held = { file: null, name: "", result: null }; // stays while the page is open

export async function open(root) {
  await loadDrawer();
  document.dispatchEvent(new Event("blendkit-drawer"));
  const view = { count: "6", spot: "none", at: null, chosen: 0 };
  const area = h("div", { class: "photo-area" });
  put(root, h("h1", { class: "unseen" }, "Photo"), area);

  function welcome(error = null) {
    put(
      area,
      h(
        "div",
        { class: "photo-welcome" },
        h("h2", { class: "big" }, "The colours of a fabric, a garden, a patterned paper"),
        h(
          "p",
          { class: "lead" },
          "Drop in a photo. Its main colours are found, and for each the markers of your drawer " +
            "that come nearest, their shadow, and the papers that match.",
        ),
        error ? faultBlock(error) : null,
        dropZone("Drop a photo here, or choose one", PICTURES, take, {
          note: "JPEG, PNG, TIFF or WebP. It stays on this computer.",
        }),
      ),
    );
  }

  async function take([file]) {
    try {
      put(area, h("p", { class: "soft" }, `Sending ${file.name} to the desk …`));
      const sent = await send("/picture", {}, file);
      held.name = file.name;
      await work(area, sent.job, `Opening ${file.name}`);
      held.file = sent.file;
      view.at = null;
      await find();
    } catch (error) {
      held.file = held.result = null;
      welcome(error);
    }
  }

  async function find() {
    const body = { file: held.file, count: Number(view.count), on: store.on || undefined };
    if (view.at && view.spot !== "none") body[view.spot] = view.at;
    try {
      const { job } = await post("/photo", body);
      held.result = await work(area, job, `Looking for the colours of ${held.name}`);
      view.chosen = 0;
      show();
    } catch (error) {
      if (held.result) {
        show();
        area.prepend(faultBlock(error));
      } else welcome(error);
    }
  }

  function show() {
    const { photo, made, view: picture } = held.result;
    const colours = photo.colours;
    const image = h("img", {
      src: address("/file", { file: picture }),
      alt: `${photo.picture}, as ${photo.spot_px ? "balanced" : "taken"}`,
      draggable: "false",
    });
    const pins = colours.map((one, place) =>
      h(
        "button",
        {
          type: "button",
          class: "pin",
          "aria-label": `Colour ${place + 1}: ${one.words}`,
          "aria-pressed": String(place === view.chosen),
          style: {
            left: `${((one.x_px + 0.5) / photo.width_px) * 100}%`,
            top: `${((one.y_px + 0.5) / photo.height_px) * 100}%`,
            "background-color": one.hex,
            color: one.text,
          },
          on: { click: () => choose(place) },
        },
        place + 1,
      ),
    );
    const frame = h(
      "div",
      {
        class: `photo-frame ${view.spot !== "none" ? "aiming" : ""}`,
        role: "group",
        "aria-label": "Photo with its colours",
        on: {
          click: (event) => {
            if (view.spot === "none" || event.target.closest(".pin, .aim")) return;
            const box = image.getBoundingClientRect();
            view.at = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height].map(
              (one) => Math.min(Math.max(one, 0), 1),
            );
            find();
          },
        },
      },
      image,
      pins,
    );
    // Without a pointer: arrow keys move a cross, Enter takes the spot under it.
    const cross = h("button", {
      type: "button",
      class: "cross aim",
      hidden: view.spot === "none",
      "aria-label": "Spot for the white balance: arrow keys move it, Enter takes it",
      on: {
        keydown: (event) => {
          const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[
            event.key
          ];
          if (!move) return;
          event.preventDefault();
          const step = event.shiftKey ? 0.05 : 0.01;
          view.at = (view.at || [0.5, 0.5]).map((one, axis) =>
            Math.min(Math.max(one + move[axis] * step, 0), 1),
          );
          place();
        },
        click: (event) => {
          event.stopPropagation();
          if (event.detail === 0) find();
        },
      },
    });
    const place = () => {
      cross.style.left = `${(view.at?.[0] ?? 0.5) * 100}%`;
      cross.style.top = `${(view.at?.[1] ?? 0.5) * 100}%`;
    };
    place();
    frame.append(cross);
    const balance = h(
      "div",
      { class: "balance" },
      h("span", { class: "bar-label" }, "White balance"),
      segments(
        "White balance",
        [
          ["none", "As taken"],
          ["grey", "Click a grey spot"],
          ["white", "Click white paper"],
        ],
        view.spot,
        (spot) => {
          view.spot = spot;
          frame.classList.toggle("aiming", spot !== "none");
          cross.hidden = spot === "none";
          if (spot === "none" && view.at) {
            view.at = null;
            find();
          }
        },
      ),
      h("span", { class: "bar-label" }, "Colours"),
      segments(
        "How many colours",
        [
          ["4", "4"],
          ["6", "6"],
          ["9", "9"],
        ],
        view.count,
        (count) => ((view.count = count), find()),
      ),
    );
    const list = h(
      "ol",
      { class: "found-colours" },
      colours.map((one, place) => row(one, made?.likenesses[place], place)),
    );
    put(
      area,
      h(
        "div",
        { class: "photo-grid" },
        h(
          "div",
          { class: "photo-left" },
          frame,
          balance,
          h("p", { class: "soft small" }, photo.balance, " ", photo.notes.join(" ")),
          dropZone("Another photo", PICTURES, take),
        ),
        h("div", {}, h("h2", {}, `Colours of ${photo.picture}`), shares(colours), list),
      ),
    );
  }

  const shares = (colours) =>
    h(
      "div",
      { class: "shares", "aria-hidden": "true" },
      colours.map((one) =>
        h("i", {
          style: { "background-color": one.hex, "flex-grow": String(Math.max(one.share, 0.02) * 100) },
        }),
      ),
    );

  function row(one, made, place) {
    return h(
      "li",
      { class: place === view.chosen ? "chosen" : "" },
      h(
        "button",
        {
          type: "button",
          class: "found-ink",
          style: { "background-color": one.hex, color: one.text },
          "aria-pressed": String(place === view.chosen),
          on: { click: () => choose(place) },
        },
        h("b", {}, place + 1),
        h(
          "span",
          {},
          one.words,
          h(
            "span",
            { class: "ink-small" },
            one.is_accent ? "a small accent" : `${Math.max(1, Math.round(one.share * 100))} % of the photo`,
          ),
        ),
      ),
      h(
        "div",
        { class: "found-makes" },
        made
          ? h(
              "ul",
              {},
              made.markers.map((near) =>
                h(
                  "li",
                  {},
                  h(
                    "a",
                    { href: `/pair?colour=${encodeURIComponent(near.marker.name)}` },
                    chip(near.marker.hex),
                    near.marker.name,
                  ),
                  h("small", {}, near.verdict),
                ),
              ),
              made.shadow
                ? h(
                    "li",
                    {},
                    h(
                      "span",
                      { class: "as-line" },
                      chip(made.shadow.hex),
                      made.shadow.how === "coats" ? `${made.shadow.coats} coats of it` : made.shadow.name,
                    ),
                    h("small", {}, "shades the first"),
                  )
                : null,
              made.papers
                .slice(0, 2)
                .map((paper) =>
                  h(
                    "li",
                    {},
                    h("span", { class: "as-line" }, chip(paper.hex), paper.name),
                    h("small", {}, `${paper.kind}, ${paper.verdict}`),
                  ),
                ),
            )
          : h("p", { class: "soft" }, "The drawer has no markers yet."),
        h(
          "button",
          {
            type: "button",
            class: "plain",
            on: {
              click: () =>
                go("pair", { colour: `lab(${one.lab.map((value) => value.toFixed(2)).join(" ")})` }),
            },
          },
          "Find shadow and light",
        ),
        h(
          "small",
          { class: "numbers" },
          `${labText(one.lab)} · ${one.hex}${one.mapped ? " (stand-in)" : ""}`,
        ),
      ),
    );
  }

  function choose(place) {
    view.chosen = place;
    show();
    area.querySelectorAll(".found-ink")[place]?.focus();
  }

  if (held.result) show();
  else welcome();
  return { refresh: () => held.file && find() };
}
