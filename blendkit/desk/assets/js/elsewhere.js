// The desk on a tablet or phone of the same network, while somebody wants that.

import { get, post } from "./api.js";
import { h, put } from "./dom.js";
import { dialog, faultBlock } from "./notice.js";

export async function elsewhere() {
  const now = await get("/share");
  return dialog("On another device", () => {
    const place = h("div", { class: "elsewhere-box", "aria-live": "polite" });
    const ask = async (path) => {
      try {
        show(await post(path));
      } catch (error) {
        put(place, faultBlock(error));
      }
    };
    const show = ({ address, code }) => {
      if (!address) {
        put(
          place,
          h(
            "p",
            {},
            "A tablet beside the craft table, or a phone whose camera goes straight into Scrap test " +
              "and Photo, can use this desk while it is open here, in the same network.",
          ),
          h(
            "p",
            { class: "caution-box" },
            "It isn't encrypted, and whoever has the address can change your drawer: do it at home only.",
          ),
          h(
            "button",
            { type: "button", class: "main", on: { click: () => ask("/share/start") } },
            "Open it to this network",
          ),
        );
        return;
      }
      const picture = new Image();
      picture.src = URL.createObjectURL(new Blob([code], { type: "image/svg+xml" }));
      picture.alt = "Square code with the address";
      picture.className = "share-code";
      put(
        place,
        h("p", {}, "Point the other device’s camera at this, and open what it offers."),
        picture,
        h("p", {}, h("code", {}, address)),
        h("button", { type: "button", on: { click: () => ask("/share/stop") } }, "Close it again"),
      );
    };
    show(now);
    return place;
  });
}
