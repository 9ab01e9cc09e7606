// The page: which place is shown, the paper that everything is seen on, and keeping up with the file on disk.

import { put, h } from "./dom.js";
import { choosePaper, listen, loadState, store, watch } from "./store.js";
import { keyHelp } from "./keys.js";
import { elsewhere } from "./elsewhere.js";
import { dropActions, faultBlock, faultNotice, notice } from "./notice.js";
import { chip } from "./swatch.js";

const main = document.getElementById("place");
let shown = null; // { place, close, refresh }
let turn = 0;

const placeOf = (path) => path.replace(/^\//, "").split("/")[0] || "drawer";

async function show(path, focus = false) {
  const place = placeOf(path.split("?")[0]);
  const params = new URLSearchParams(path.split("?")[1] || "");
  const mine = ++turn;
  document.body.dataset.place = place;
  for (const tab of document.querySelectorAll(".tabs a")) {
    if (tab.dataset.place === place) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  const title = document.querySelector(`.tabs a[data-place="${place}"]`)?.textContent || "Drawer";
  document.title = `${title} · blendkit`;
  if (shown?.place === place && shown.update) {
    shown.update(params);
    return;
  }
  const module = await import(`./places/${place}.js`);
  if (mine !== turn) return;
  shown?.close?.();
  shown = null;
  main.className = `place ${place}`;
  try {
    const opened = await module.open(main, params);
    if (mine !== turn) opened?.close?.();
    else shown = { ...opened, place };
  } catch (error) {
    put(main, h("h1", {}, title), faultBlock(error));
  }
  if (focus) main.focus({ preventScroll: true });
}

export function go(path, { replace = false, again = false } = {}) {
  if (again) shown = null;
  if (path !== location.pathname + location.search)
    history[replace ? "replaceState" : "pushState"]({}, "", path);
  const fresh = placeOf(path.split("?")[0]) !== shown?.place;
  if (fresh) scrollTo(0, 0);
  return show(path, fresh);
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='/']");
  if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey)
    return;
  if (link.target || link.hasAttribute("download") || link.pathname.startsWith("/api")) return;
  event.preventDefault();
  go(link.pathname + link.search);
});
document.getElementById("elsewhere").addEventListener("click", () => elsewhere().catch(faultNotice));
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select, [role=application]");
  if (document.querySelector("dialog[open]") || typing) return;
  if (event.key === "?") return keyHelp();
  if (event.key.toLowerCase() !== "z" || !(event.ctrlKey || event.metaKey)) return;
  const step = event.shiftKey ? shown?.redo : shown?.undo;
  if (!step) return;
  event.preventDefault();
  step();
});
document.addEventListener("blendkit-go", (event) => go(event.detail.path, event.detail));
window.addEventListener("popstate", () => show(location.pathname + location.search));

function showPaper() {
  const box = document.getElementById("on");
  const state = store.state;
  if (!state.papers.length) return put(box);
  const usual = state.usual_paper;
  const select = h(
    "select",
    {
      id: "on-paper",
      on: { change: (event) => choosePaper(event.target.value === usual ? "" : event.target.value) },
    },
    state.papers.map((name) => h("option", { value: name, selected: name === (store.on || usual) }, name)),
  );
  const swatch = chip(paperHex(), "on-chip");
  put(box, swatch, h("label", { for: "on-paper" }, "on"), select);
  return box;
}

const paperHex = () => store.drawer?.paper?.hex || "#fdfcf8";
document.addEventListener("blendkit-drawer", () => {
  const spot = document.querySelector(".on-chip");
  if (spot) spot.style.backgroundColor = paperHex();
});

// What is wrong with the desk or its file is said once, and taken away when it is right again.
let trouble = null;
listen((what, error) => {
  if (what === "newer") return dropActions();
  if (what === "gone" || what === "unreadable") {
    if (trouble?.what === what) return;
    trouble?.close();
    const words =
      what === "gone"
        ? "The desk is closed. Start it again with: blendkit desk. What you have typed stays on this page."
        : [error.message, ...error.problems.slice(0, 3).map((one) => `${one.where}: ${one.found}.`)].join(
            " ",
          );
    trouble = { what, close: notice(words, { kind: "bad", stay: 0 }) };
    return;
  }
  trouble?.close();
  trouble = null;
  showPaper();
  shown?.refresh?.(what);
});

try {
  await loadState();
  showPaper();
  await show(location.pathname + location.search);
  watch();
} catch (error) {
  put(main, h("h1", {}, "The desk"), faultBlock(error));
}
document.body.classList.add("ready");
