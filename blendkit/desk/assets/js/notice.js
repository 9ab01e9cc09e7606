// Notices, questions and long work, said in words.

import { follow, post } from "./api.js";
import { h, newId, put } from "./dom.js";

// A notice stands in the topmost dialog while one is open, for what lies outside it can't be reached then.
// An action belongs to the state that it was offered for: a later change takes it away.
export function notice(words, { kind = "good", action = null, stay = 7000 } = {}) {
  const box = document.getElementById("notices");
  ([...document.querySelectorAll("dialog[open]")].at(-1) ?? document.body).append(box);
  const close = () => item.remove();
  const item = h(
    "div",
    { class: `notice ${kind}` },
    h("p", {}, words),
    action &&
      h(
        "button",
        { class: "plain act", type: "button", on: { click: () => (close(), action.run()) } },
        action.words,
      ),
    h(
      "button",
      { class: "plain close", type: "button", "aria-label": "Close this notice", on: { click: close } },
      "×",
    ),
  );
  box.append(item);
  while (box.children.length > 3) box.firstChild.remove();
  if (stay) setTimeout(close, kind === "bad" ? stay * 2 : stay);
  return close;
}

// What was offered for an older state can't be pressed any more.
export function dropActions() {
  for (const button of document.querySelectorAll("#notices .act")) button.remove();
}

export function faultNotice(error) {
  if (error.name === "AbortError") return;
  const more = (error.problems || [])
    .slice(0, 3)
    .map((one) => `${one.where}: found ${one.found}; accepted: ${one.accepted}`);
  notice([error.message, ...more].join("  "), { kind: "bad" });
}

// A fault as a block within a place, with every problem in it.
export function faultBlock(error) {
  return h(
    "div",
    { class: "fault", role: "alert" },
    h("p", {}, error.message),
    error.problems?.length
      ? h(
          "ul",
          {},
          error.problems
            .slice(0, 40)
            .map((one) =>
              h("li", {}, h("strong", {}, one.where), ` found ${one.found}; accepted: ${one.accepted}`),
            ),
        )
      : null,
  );
}

// A dialog; resolves with what `close` was given, or null when it was left.
export function dialog(title, build, { wide = false } = {}) {
  return new Promise((done) => {
    const id = newId("dialog");
    const box = h("dialog", { class: wide ? "wide" : "", "aria-labelledby": id });
    let answer = null;
    const close = (value = null) => {
      answer = value;
      box.close();
    };
    box.addEventListener("close", () => {
      const notices = document.getElementById("notices");
      if (box.contains(notices)) document.body.append(notices);
      box.remove();
      done(answer);
    });
    put(
      box,
      h(
        "div",
        { class: "dialog-inner" },
        h(
          "div",
          { class: "dialog-head" },
          h("h2", { id }, title),
          h(
            "button",
            { type: "button", class: "plain close", "aria-label": "Close", on: { click: () => close() } },
            "×",
          ),
        ),
        build(close),
      ),
    );
    document.body.append(box);
    box.showModal();
  });
}

// Long work: a bar with words and a stop button in `place`, until it ends.
export async function work(place, job, title) {
  const bar = h("progress", { max: "1", value: 0, "aria-label": title });
  const words = h("p", { class: "soft" }, "beginning");
  const stop = h(
    "button",
    { type: "button", on: { click: () => post("/job/stop", { job }).catch(faultNotice) } },
    "Stop",
  );
  put(
    place,
    h("div", { class: "work", role: "group", "aria-label": title }, h("strong", {}, title), bar, words, stop),
  );
  return follow(job, (view) => {
    bar.value = view.share;
    words.textContent = view.words;
  });
}
