// Colours by clicks in a photo: one for a question, or a whole swatch card for the drawer. The photo goes to
// the desk, which reads its profile and gives the colour.

import { PICTURES } from "./facts.js";
import { address, get, post, send } from "./api.js";
import { h, plural, put } from "./dom.js";
import { dropZone } from "./fields.js";
import { dialog, faultBlock, notice, work } from "./notice.js";
import { accept, store } from "./store.js";
import { chip } from "./swatch.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const within = (one) => Math.min(Math.max(one, 0), 1);

// A dialog that asks for a photo first; `show(picture, close)` gives what stands there once it is open.
function photoDialog(title, note, show) {
  return dialog(
    title,
    (close) => {
      const stage = h("div", {});
      const take = async ([file]) => {
        put(stage, h("p", { class: "soft" }, `Opening ${file.name} …`));
        try {
          const { job } = await send("/picture", {}, file);
          const picture = await work(stage, job, `Opening ${file.name}`);
          put(stage, show(picture, close), notes(picture));
          stage.querySelector(".pick").focus();
        } catch (error) {
          put(stage, faultBlock(error), zone);
        }
      };
      const zone = dropZone("Drop a photo here, or choose one", PICTURES, take, {
        note: `${note} It stays on this computer.`,
      });
      put(stage, zone);
      return stage;
    },
    { wide: true },
  );
}

const notes = (picture) =>
  picture.notes.length
    ? h(
        "ul",
        { class: "notes" },
        picture.notes.map((one) => h("li", {}, one)),
      )
    : null;

// The photo with a cross on it: `seen(colour)` is told what lies under each click, `enter()` of Enter.
function photoBoard(picture, seen, enter) {
  let at = [0.5, 0.5];
  const cross = h("span", { class: "cross", "aria-hidden": "true" });
  const image = h("img", {
    src: address("/file", { file: picture.view }),
    alt: `${picture.name}, to pick a colour from`,
    draggable: "false",
  });
  const look = async (place) => {
    at = place.map(within);
    cross.style.left = `${at[0] * 100}%`;
    cross.style.top = `${at[1] * 100}%`;
    seen(await get("/picture/colour", { file: picture.file, x: at[0], y: at[1] }));
  };
  const click = (event) => {
    const box = image.getBoundingClientRect();
    look([(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height]);
  };
  const keydown = (event) => {
    if (event.key === "Enter") enter();
    const move = ARROWS[event.key];
    if (!move) return;
    event.preventDefault();
    const step = event.shiftKey ? 0.05 : 0.01;
    look(at.map((one, axis) => one + move[axis] * step));
  };
  return h(
    "div",
    {
      class: "pick",
      tabindex: "0",
      role: "application",
      "aria-label": "Photo; arrow keys move the cross, Enter takes the colour",
      on: { click, keydown },
    },
    image,
    cross,
  );
}

export function pickFromPicture() {
  return photoDialog("Pick a colour from a photo", "", (picture, close) => {
    let hex = null;
    const spot = chip("#ffffff", "try");
    const words = h("p", { "aria-live": "polite" }, "Click the colour.");
    const use = h("button", { type: "button", class: "main", disabled: true }, "Use this colour");
    use.addEventListener("click", () => close(hex));
    const seen = (colour) => {
      hex = colour.hex;
      spot.style.backgroundColor = hex;
      words.textContent = `${colour.words}, ${hex}`;
      use.disabled = false;
    };
    const board = photoBoard(picture, seen, () => hex && close(hex));
    return [board, h("div", { class: "pick-foot" }, spot, words, use)];
  });
}

// A swatch card that somebody has already: each click is a marker, which then only wants its name.
export function fromSwatchCard() {
  return photoDialog(
    "Markers from a photo of a swatch card",
    "A photo in daylight, without flash, is best; a coloured chart makes the colours true later.",
    (picture, close) => {
      const rows = h("ol", { class: "card-rows" });
      const faults = h("div");
      const keep = h("button", { type: "button", class: "main", disabled: true, on: { click: put_in } });
      const count = () => {
        keep.disabled = !rows.children.length;
        keep.textContent = `Put ${plural(rows.children.length, "marker")} in the drawer`;
      };
      const add = (colour) => {
        const name = h("input", {
          type: "text",
          maxlength: "100",
          value: freeName(colour.words, rows),
          "aria-label": `Name of marker ${rows.children.length + 1}, ${colour.words}`,
        });
        const row = h("li", { "data-hex": colour.hex }, chip(colour.hex), name, away());
        rows.append(row);
        name.focus();
        name.select();
        count();
      };
      const away = () =>
        h(
          "button",
          {
            type: "button",
            class: "plain close",
            "aria-label": "Leave this one out",
            on: { click: (event) => (event.target.closest("li").remove(), count()) },
          },
          "×",
        );
      async function put_in() {
        put(faults);
        let kept = 0;
        for (const row of [...rows.children]) {
          const body = { name: row.querySelector("input").value.trim(), kind: "marker" };
          try {
            accept(
              await post("/items/add", { ...body, colour: row.dataset.hex, note: "clicked in a photo" }),
            );
            kept += 1;
            row.remove();
          } catch (error) {
            row.append(faultBlock(error));
          }
        }
        count();
        if (kept) notice(`${plural(kept, "marker")} from ${picture.name} in the drawer.`);
        if (!rows.children.length) close();
      }
      count();
      return [
        h(
          "p",
          { class: "soft" },
          "Click each swatch, then type its name. The next click begins the next one.",
        ),
        h(
          "div",
          { class: "card-grid" },
          photoBoard(picture, add, () => {}),
          h("div", {}, faults, rows, keep),
        ),
      ];
    },
  );
}

// A name that nothing in the drawer and in the list has yet.
function freeName(words, rows) {
  const taken = new Set([...rows.querySelectorAll("input")].map((one) => one.value.toLowerCase()));
  for (const name of store.drawer?.byName.keys() ?? []) taken.add(name);
  for (let number = 1; ; number += 1) {
    const name = number === 1 ? words : `${words} ${number}`;
    if (!taken.has(name.toLowerCase())) return name;
  }
}
