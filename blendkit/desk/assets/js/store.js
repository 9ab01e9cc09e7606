// What all places share: the state of the palette on disk, the chosen paper, the drawer's names.

import { get } from "./api.js";

const KEPT = "blendkit-on";
const listeners = new Set();
let edits = 0;

export const store = {
  state: null,
  on: "",
  drawer: null, // the answer of /drawer, for names and swatches
};

export function listen(run) {
  listeners.add(run);
  return () => listeners.delete(run);
}

function tell(what, error = null) {
  for (const run of [...listeners]) run(what, error);
}

export async function loadState() {
  const mine = edits;
  const state = await get("/state");
  if (mine !== edits) return false; // this page has changed the file meanwhile: the answer is older than that
  const changed = !store.state || store.state.version !== state.version;
  if (changed) tell("newer");
  store.state = state;
  if (!state.papers.includes(store.on)) {
    const kept = sessionStorage.getItem(KEPT) || "";
    store.on = state.papers.includes(kept) ? kept : "";
  }
  return changed;
}

export async function loadDrawer(force = false) {
  if (
    !force &&
    store.drawer &&
    store.drawer.version === store.state?.version &&
    store.drawer.asked === store.on
  ) {
    return store.drawer;
  }
  const drawer = await get("/drawer", { on: store.on });
  drawer.asked = store.on;
  drawer.byName = new Map(
    [...drawer.markers, ...drawer.others].map((item) => [item.name.toLowerCase(), item]),
  );
  store.drawer = drawer;
  return drawer;
}

// Take over the state that an edit gave back.
export function accept(state) {
  edits += 1;
  tell("newer");
  store.state = { ...store.state, ...state };
  tell("palette");
}

export function choosePaper(name) {
  store.on = name;
  sessionStorage.setItem(KEPT, name);
  tell("paper");
}

// Another window or the command line may write the file: look every few seconds, and whenever this page is
// looked at.
export function watch() {
  const look = async () => {
    if (document.hidden) return;
    try {
      if (await loadState()) {
        tell("palette");
      }
    } catch (error) {
      tell(error.status ? "unreadable" : "gone", error);
    }
  };
  setInterval(look, 3000);
  document.addEventListener("visibilitychange", look);
  window.addEventListener("focus", look);
}
