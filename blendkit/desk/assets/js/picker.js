// Pick a colour by a click in a photo. The photo goes to the desk, which reads its profile and gives the
// colour.

import { PICTURES } from "./facts.js";
import { address, get, send } from "./api.js";
import { h, put } from "./dom.js";
import { dropZone } from "./fields.js";
import { dialog, faultBlock, work } from "./notice.js";
import { chip } from "./swatch.js";

export function pickFromPicture() {
  return dialog(
    "Pick a colour from a photo",
    (close) => {
      const stage = h("div", {});
      const take = async ([file]) => {
        put(stage, h("p", { class: "soft" }, `Opening ${file.name} …`));
        try {
          const { job } = await send("/picture", {}, file);
          show(await work(stage, job, `Opening ${file.name}`));
        } catch (error) {
          put(stage, faultBlock(error), zone);
        }
      };
      const zone = dropZone("Drop a photo here, or choose one", PICTURES, take, {
        note: "It stays on this computer.",
      });
      const show = (picture) => {
        const spot = chip("#ffffff", "try");
        const words = h(
          "p",
          { "aria-live": "polite" },
          "Click the colour; use the arrow keys and Enter if you can't point.",
        );
        const use = h("button", { type: "button", class: "main", disabled: true }, "Use this colour");
        let at = [0.5, 0.5];
        let hex = null;
        const cross = h("span", { class: "cross", "aria-hidden": "true" });
        const image = h("img", {
          src: address("/file", { file: picture.view }),
          alt: `${picture.name}, to pick a colour from`,
          draggable: "false",
        });
        const look = async () => {
          cross.style.left = `${at[0] * 100}%`;
          cross.style.top = `${at[1] * 100}%`;
          const seen = await get("/picture/colour", { file: picture.file, x: at[0], y: at[1] });
          hex = seen.hex;
          spot.style.backgroundColor = seen.hex;
          words.textContent = `${seen.words}, ${seen.hex}`;
          use.disabled = false;
        };
        const board = h(
          "div",
          {
            class: "pick",
            tabindex: "0",
            role: "application",
            "aria-label": "Photo; arrow keys move the cross",
            on: {
              click: (event) => {
                const box = image.getBoundingClientRect();
                at = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height].map(
                  (one) => Math.min(Math.max(one, 0), 1),
                );
                look();
              },
              keydown: (event) => {
                const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[
                  event.key
                ];
                if (event.key === "Enter" && hex) close(hex);
                if (!move) return;
                event.preventDefault();
                const step = event.shiftKey ? 0.05 : 0.01;
                at = [at[0] + move[0] * step, at[1] + move[1] * step].map((one) =>
                  Math.min(Math.max(one, 0), 1),
                );
                look();
              },
            },
          },
          image,
          cross,
        );
        use.addEventListener("click", () => close(hex));
        put(
          stage,
          board,
          h("div", { class: "pick-foot" }, spot, words, use),
          picture.notes.length
            ? h(
                "ul",
                { class: "notes" },
                picture.notes.map((note) => h("li", {}, note)),
              )
            : null,
        );
        board.focus();
      };
      put(stage, zone);
      return stage;
    },
    { wide: true },
  );
}
