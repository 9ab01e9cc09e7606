// Labelled fields of a form.

import { h, newId } from "./dom.js";

export function field(label, input, note = "") {
  const id = input.id || newId("field");
  input.id = id;
  const noteId = note ? newId("note") : null;
  if (noteId) input.setAttribute("aria-describedby", noteId);
  return h(
    "div",
    { class: "field" },
    h("label", { for: id }, label),
    input,
    note ? h("small", { id: noteId }, note) : null,
  );
}

export const text = (name, value = "", given = {}) =>
  h("input", { type: "text", name, value, autocomplete: "off", ...given });
export const area = (name, value = "") => h("textarea", { name, rows: "2", value });

export function choice(name, options, chosen) {
  return h(
    "select",
    { name },
    options.map((one) => {
      const [value, label] = Array.isArray(one) ? one : [one, one];
      return h("option", { value, selected: value === chosen }, label);
    }),
  );
}

// A row of buttons of which one is pressed.
export function segments(label, options, chosen, choose) {
  const buttons = options.map(([value, words]) =>
    h(
      "button",
      {
        type: "button",
        "aria-pressed": String(value === chosen),
        "data-value": value,
        on: { click: () => pick(value) },
      },
      words,
    ),
  );
  const pick = (value) => {
    for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.value === value));
    choose(value);
  };
  return h("div", { class: "segments", role: "group", "aria-label": label }, buttons);
}

export const tick = (label, checked, change, given = {}) =>
  h(
    "label",
    { class: "tick" },
    h("input", {
      type: "checkbox",
      checked,
      on: { change: (event) => change(event.target.checked) },
      ...given,
    }),
    h("span", {}, label),
  );

export const values = (form) =>
  Object.fromEntries([...new FormData(form)].map(([key, value]) => [key, String(value).trim()]));

// A place to drop files on, that is also a button.
export function dropZone(label, accept, take, { multiple = false, note = "" } = {}) {
  const input = h("input", {
    type: "file",
    accept,
    multiple,
    class: "unseen",
    "aria-label": label,
    on: { change: () => give(input.files) },
  });
  const zone = h(
    "label",
    { class: "drop" },
    input,
    h("strong", {}, label),
    note ? h("span", {}, note) : null,
  );
  const give = (files) => {
    const list = [...files];
    input.value = "";
    if (list.length) take(multiple ? list : list.slice(0, 1));
  };
  zone.addEventListener("dragover", (event) => {
    event.preventDefault();
    zone.classList.add("over");
  });
  zone.addEventListener("dragleave", () => zone.classList.remove("over"));
  zone.addEventListener("drop", (event) => {
    event.preventDefault();
    zone.classList.remove("over");
    give(event.dataTransfer.files);
  });
  return zone;
}
