// The chosen part of a project: its name, its markers with what fits them, and what lies in front of what.

import { get } from "./api.js";
import { h, put } from "./dom.js";
import { MATERIALS } from "./facts.js";
import { area, choice, field, segments, text, tick } from "./fields.js";
import { finder } from "./finder.js";
import { faultNotice } from "./notice.js";
import { store } from "./store.js";
import { chip, strip } from "./swatch.js";

const NONE = "none";

// `act(path, body)` changes the project; `look(part, markers)` tries colours without keeping them;
// `settle()` ends that.
export function partPanel(panel, view, part, { act, look, settle, close, next, more }) {
  const set = (body) => act("/project/part/set", { part: part.name, ...body });
  const name = text("new_name", part.name, {
    maxlength: "100",
    on: { change: () => name.value.trim() && set({ new_name: name.value.trim() }) },
  });
  const base = finder({
    label: "Base coat",
    kinds: ["marker"],
    value: part.named.base,
    hint: "a marker of the drawer",
    choose: (value) => set({ base: value }),
  });
  const fits = h("div", { class: "fit-list" });
  put(
    panel,
    h(
      "div",
      { class: "part-head" },
      h("h2", { tabindex: "-1" }, part.name),
      h(
        "button",
        { type: "button", class: "plain close", "aria-label": `Close ${part.name}`, on: { click: close } },
        "×",
      ),
    ),
    part.strip.length
      ? strip(part.strip, "tall")
      : h(
          "p",
          { class: "soft" },
          part.leave_white ? "Stays bare paper." : "No marker yet: choose a base coat.",
        ),
    base.element,
    fits,
    part.leave_white ? null : material(part, set),
    borders(view, part, act),
    h(
      "details",
      {},
      h("summary", {}, "Name, white, order"),
      field("Name", name),
      tick("Leave it white", part.leave_white, (white) => set({ leave_white: white })),
      tick("It takes every area that no other part has", part.rest, (rest) => set({ rest })),
      h(
        "div",
        { class: "lean" },
        h("span", {}, "Toward the light"),
        segments(
          "Toward the light",
          [
            ["paper", "paper"],
            ["light", "light marker"],
            ["none", "nothing"],
            ...(store.state.blenders.length
              ? [
                  ["lift", "lifted with the blender"],
                  ["fade", "white, faded into"],
                ]
              : []),
          ],
          part.highlight,
          (highlight) => set({ highlight }),
        ),
      ),
      field(
        "Order",
        choice(
          "order",
          [
            ["light-first", "Light first"],
            ["dark-first", "Dark first"],
          ],
          part.order,
        ),
      ),
      field("Note for the table", area("note", part.note)),
      h(
        "button",
        {
          type: "button",
          class: "plain take-out",
          on: { click: () => act("/project/part/remove", { part: part.name }) },
        },
        "Take this part out",
      ),
    ),
    more,
    next ? h("button", { type: "button", class: "wide", on: { click: next } }, "Next part") : null,
  );
  panel
    .querySelector("[name=order]")
    .addEventListener("change", (event) => set({ order: event.target.value }));
  panel.querySelector("[name=note]").addEventListener("change", (event) => set({ note: event.target.value }));
  if (part.named.base && !part.leave_white) companions(fits, view, part, { set, look, settle });
}

// What it is made of, by a word: that decides its highlight and how its shade runs.
function material(part, set) {
  const label = (name) => MATERIALS.find(([key]) => key === name)?.[1] ?? "nothing known";
  const list = choice("material", [["", `a guess: ${label(part.guessed)}`], ...MATERIALS], part.material);
  list.addEventListener("change", () => set({ material: list.value }));
  return field("Made of", list);
}

async function companions(place, view, part, { set, look, settle }) {
  let answer;
  try {
    answer = await get("/pair", {
      colour: part.named.base,
      on: store.state.papers.includes(view.paper) ? view.paper : "",
      count: 6,
      all_ways: "false",
    });
  } catch (error) {
    return faultNotice(error);
  }
  const shadows = answer.shadow.filter((one) => one.how === "marker").slice(0, 5);
  const lights = answer.light.slice(0, 4);
  const row = (role, key, value, label, blend, note, pressed) =>
    h(
      "button",
      {
        type: "button",
        class: "fit",
        "aria-pressed": String(pressed),
        "data-role": role,
        on: {
          click: (event) => keep(event, { [key]: value }),
          pointerenter: () => look(part, { [key]: value }),
          focus: () => look(part, { [key]: value }),
          pointerleave: (event) => event.pointerType !== "touch" && settle(),
          blur: settle,
        },
      },
      blend,
      h("span", {}, label),
      h("small", {}, note),
    );
  // A tap shows it, a second tap keeps it; a mouse has shown it by pointing there already.
  const keep = (event, markers) => {
    const button = event.currentTarget;
    if (event.pointerType === "touch" && !button.classList.contains("shown")) {
      for (const other of place.querySelectorAll(".shown")) other.classList.remove("shown");
      button.classList.add("shown");
      return look(part, markers);
    }
    return set(markers);
  };
  const made = part.made;
  const madeWords =
    made &&
    (made.how === "coats"
      ? `${made.coats} coats`
      : `${made.name}${made.how === "marker" ? "" : `, laid ${made.how}`}`);
  const choiceWords = part.chosen && made ? `The drawer's choice: ${madeWords}` : "Let the drawer choose";
  const other = (key, label, kinds) =>
    finder({
      label,
      kinds,
      hint: "another marker",
      hideLabel: false,
      choose: (value) => value && set({ [key]: value }),
    }).element;
  place.dataset.version = view.version;
  put(
    place,
    h("h3", {}, "Shadow"),
    row(
      "shadow",
      "shadow",
      "",
      choiceWords,
      part.chosen && part.shadow ? chip(part.shadow.hex) : chip("#e7ddcc"),
      "",
      part.named.shadow === "",
    ),
    shadows.map((one) =>
      row(
        "shadow",
        "shadow",
        one.name,
        one.name,
        strip(one.blend),
        Math.floor(one.score),
        part.named.shadow === one.name,
      ),
    ),
    part.named.shadow && part.named.shadow !== NONE && !shadows.some((one) => one.name === part.named.shadow)
      ? row(
          "shadow",
          "shadow",
          part.named.shadow,
          part.named.shadow,
          chip(part.shadow?.hex || "#fff"),
          "",
          true,
        )
      : null,
    row("shadow", "shadow", NONE, "No shadow", chip(answer.base.hex), "", part.named.shadow === NONE),
    other("shadow", "Another shadow", ["marker"]),
    h("h3", {}, "Light"),
    row("light", "light", "", "Bare paper", chip(view.on.hex), "", part.named.light === ""),
    lights.map((one) =>
      row(
        "light",
        "light",
        one.name,
        one.name,
        strip([...one.blend].reverse()),
        Math.floor(one.score),
        part.named.light === one.name,
      ),
    ),
    part.named.light && !lights.some((one) => one.name === part.named.light)
      ? row("light", "light", part.named.light, part.named.light, chip(part.light?.hex || "#fff"), "", true)
      : null,
    other("light", "Another light", ["marker"]),
  );
}

// What touches this part, the longest border first, and which of the two lies in front.
function borders(view, part, act) {
  const owner = new Map(view.areas.map((one) => [one.number, one.part]));
  const mine = view.parts.indexOf(part);
  const beside = new Map();
  for (const one of view.borders) {
    const [a, b] = [owner.get(one.one), owner.get(one.other)];
    if ((a === mine) === (b === mine)) continue;
    const others = a === mine ? b : a;
    if (others < 0) continue;
    const front = a === mine ? one.one_in_front : 1 - one.one_in_front;
    const ends = a === mine ? [one.one, one.other] : [one.other, one.one];
    const held = beside.get(others);
    if (!held || one.border_mm > held.border_mm)
      beside.set(others, { border_mm: one.border_mm, front, ends, given: one.given });
  }
  if (!beside.size) return null;
  const rows = [...beside].sort((a, b) => b[1].border_mm - a[1].border_mm).slice(0, 8);
  return h(
    "div",
    { class: "borders" },
    h("h3", {}, "In front of it, or behind?"),
    h(
      "ul",
      {},
      rows.map(([other, one]) => {
        const inFront = one.front >= 0.5;
        const sure = Math.abs(2 * one.front - 1);
        const named = view.parts[other].name;
        return h(
          "li",
          {},
          h(
            "span",
            {},
            inFront ? `in front of ${named}` : `behind ${named}`,
            h("small", {}, one.given ? "as you decided" : sure > 0.6 ? "fairly sure" : "a guess"),
          ),
          h(
            "button",
            {
              type: "button",
              "aria-label": `Flip ${part.name} and ${named}`,
              on: {
                click: () =>
                  act(
                    "/project/front",
                    inFront
                      ? { front: one.ends[1], behind: one.ends[0] }
                      : { front: one.ends[0], behind: one.ends[1] },
                  ),
              },
            },
            "Flip",
          ),
        );
      }),
    ),
  );
}
