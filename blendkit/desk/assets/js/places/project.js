// Project: a line image becomes named parts, each with its markers, under a light that is dragged around.

import { get, post, send } from "../api.js";
import { Board } from "../board.js";
import { CROSS_WORDS, DAB_WORDS } from "../cross.js";
import { showVersions } from "../drawer-dialogs.js";
import { after, h, keepFocus, plural, put } from "../dom.js";
import { choice, dropZone, field, segments, text } from "../fields.js";
import { go } from "../go.js";
import { isEmpty } from "../empty.js";
import { roving } from "../keys.js";
import { dialog, faultBlock, faultNotice, notice, work } from "../notice.js";
import { PICTURES } from "../facts.js";
import { partPanel } from "../project-part.js";
import { printSheets } from "../project-print.js";
import { Looking, Overlaps } from "../project-shade.js";
import { loadDrawer, store } from "../store.js";

const MODES = [
  ["choose", "Choose", "Click a part to choose its markers; click a bare area to make a part of it."],
  ["add", "Add areas", "Click areas to give them to the chosen part, or to take them away again."],
  ["close", "Close a gap", "Draw a short stroke across the gap; it becomes a line that nobody sees."],
  [
    "open",
    "Gaps closed",
    "Coloured strokes are gaps that were closed for you. Click one to leave it open, or to close it again.",
  ],
  ["split", "Split", "Draw a stroke across an area, from edge to edge, to make two of it."],
  [
    "merge",
    "Merge",
    "Draw from one area into its neighbour to make one of them; out onto the paper to drop an area.",
  ],
  [
    "group",
    "Group",
    "Scribble over areas that belong together: all of them go into the chosen part, or into a new one.",
  ],
  ["dark", "Darker", "Tap where it should be darker. A tap on a lighter dab takes that one away."],
  ["bright", "Lighter", "Tap where it should be lighter. A tap on a darker dab takes that one away."],
];

const across = (colours) => `linear-gradient(90deg, ${colours.join(", ")})`;

let left = null; // where the person was when this place was left

export async function open(root, params) {
  await loadDrawer();
  document.dispatchEvent(new Event("blendkit-drawer"));
  if (isEmpty(root, "Project", "Parts are coloured with your own markers, and the drawer has none yet."))
    return { refresh: () => store.state.counts.marker && go("project", {}, { again: true }) };
  let view = null;
  let chosen = null;
  let board = null;
  let mode = left?.mode ?? "choose";
  let busy = 0;
  let modes = null;
  let looking = null;
  const area = h("div");
  put(root, h("h1", { class: "unseen" }, "Project"), area);

  // ------------------------------------------------------------ list and new

  async function list(error = null) {
    view = null;
    const { projects, folder } = await get("/projects");
    put(
      area,
      h(
        "div",
        { class: "project-welcome" },
        h("h2", { class: "big" }, "Colour it before the first stroke"),
        h(
          "p",
          { class: "lead" },
          "Drop in a stamped outline: a scan, a photo or a clean drawing. Its closed parts are " +
            "found, you choose a marker for each, drag the light, and print a plan to work from.",
        ),
        error ? faultBlock(error) : null,
        dropZone("Drop a line image here, or choose one", PICTURES, make, {
          note: "Black lines on lighter paper. It is copied beside your drawer.",
        }),
        projects.length
          ? h(
              "div",
              {},
              h("h2", {}, "Your projects"),
              h(
                "ul",
                { class: "project-list" },
                projects.map((one) =>
                  h(
                    "li",
                    {},
                    h("a", { class: "button", href: `/project?project=${one.project}` }, one.name),
                    h("small", {}, `changed ${new Date(one.changed).toLocaleString()}`),
                    projectActs(one),
                  ),
                ),
              ),
            )
          : h(
              "p",
              { class: "soft" },
              "They are kept in ",
              h("code", {}, folder),
              ", each with its image and a text file that can be edited by hand.",
            ),
      ),
    );
  }

  // A project is renamed, copied or taken away; taking away can be taken back.
  function projectActs(one) {
    const tell = async (run) => {
      try {
        await run();
      } catch (error) {
        faultNotice(error);
      }
      await list();
    };
    const { project } = one;
    const button = (words, run) =>
      h(
        "button",
        { type: "button", class: "plain", "aria-label": `${words}: ${one.name}`, on: { click: run } },
        words,
      );
    const away = async () => {
      const { away: name } = await post("/projects/away", { project });
      const back = () => tell(() => post("/projects/back", { name }));
      notice(`${one.name} is taken away.`, { action: { words: "Undo", run: back } });
    };
    const rename = async () => {
      const name = await askName(one.name);
      if (name) await tell(() => post("/projects/rename", { project, name }));
    };
    return h(
      "span",
      { class: "acts" },
      button("Rename", rename),
      button("Copy", () => tell(() => post("/projects/copy", { project }))),
      button("Take away", () => tell(away)),
    );
  }

  const askName = (name) =>
    dialog("Rename the project", (close) => {
      const input = text("name", name, { required: true, maxlength: "100" });
      const keep = (event) => {
        event.preventDefault();
        close(input.value.trim());
      };
      return h(
        "form",
        { on: { submit: keep } },
        field("Name", input),
        h("div", { class: "dialog-acts" }, h("button", { type: "submit", class: "main" }, "Rename it")),
      );
    });

  async function make([file]) {
    try {
      put(area, h("p", { class: "soft" }, `Sending ${file.name} to the desk …`));
      const { project } = await send("/projects/new", {}, file);
      go("project", { project });
    } catch (error) {
      list(error);
    }
  }

  async function start(project) {
    try {
      const { job } = await post("/project/open", { project });
      view = await work(area, job, "Opening the project");
      build();
      await take(view);
    } catch (error) {
      list(error);
    }
  }

  // ------------------------------------------------------------ the table

  const panel = h("aside", { class: "part-panel", "aria-label": "Part and project", tabindex: "0" });
  const hint = h("p", { class: "hint soft", "aria-live": "polite" });
  const said = h("p", { class: "said", role: "status" });
  const tools = h("div", { class: "project-tools" });
  const parts = h("nav", { class: "part-list", "aria-label": "Parts" });
  const overlaps = new Overlaps({ act: (body) => act("/project/front", body), showPair });
  const check = h("section", { class: "plan-check", "aria-label": "Plan check", "aria-live": "polite" });

  function build() {
    board = new Board({ click, stroke, light: lightFrom, say: (words) => (said.textContent = words) });
    modes = segments(
      "What a click does",
      MODES.map(([key, words]) => [key, words]),
      mode,
      setMode,
    );
    const showing = segments(
      "Show",
      [
        ["coloured", "Coloured"],
        ["parts", "Areas"],
      ],
      board.showing,
      (what) => {
        board.showing = what;
        board.paintAll();
        marks();
      },
    );
    board.element.append(said);
    looking = new Looking(board);
    put(
      area,
      tools,
      h(
        "div",
        { class: "project-grid" },
        h(
          "div",
          { class: "project-table" },
          h("div", { class: "mode-bar" }, modes, showing, looking.element),
          hint,
          board.element,
        ),
        h("div", { class: "project-side" }, parts, overlaps.element, panel, check),
      ),
    );
    setMode(mode);
  }

  function setMode(next) {
    mode = next;
    board.mode = ["close", "split", "merge", "group"].includes(mode) ? "draw" : "choose";
    board.stage.dataset.mode = mode;
    const [draws, dabs] = [board.mode === "draw", isDab()];
    board.cross.show(draws || dabs, dabs);
    const byKeys = draws ? ` ${CROSS_WORDS}` : dabs ? ` ${DAB_WORDS}` : "";
    hint.textContent = MODES.find(([key]) => key === mode)[2] + byKeys;
    if (!board.view) return;
    showPanel();
    marks();
  }

  const isDab = () => mode === "dark" || mode === "bright";

  function showPair(front, behind) {
    if (!board?.view) return;
    board.showPair(front, behind);
    marks();
  }

  function showTools() {
    const step = (path) => act(path, {}, true);
    put(
      tools,
      h("h2", { class: "project-name" }, view.name),
      h(
        "span",
        { class: "soft" },
        `${view.width_mm.toFixed(0)} × ${view.height_mm.toFixed(0)} mm on ${view.on.name}`,
      ),
      h(
        "div",
        { class: "acts" },
        h(
          "button",
          {
            type: "button",
            disabled: !view.undo,
            title: view.undo ? `Take back: ${view.undo}` : "",
            on: { click: () => step("/project/undo") },
          },
          "Undo",
        ),
        h(
          "button",
          {
            type: "button",
            disabled: !view.redo,
            title: view.redo ? `Do again: ${view.redo}` : "",
            on: { click: () => step("/project/redo") },
          },
          "Redo",
        ),
        h("button", { type: "button", on: { click: versions } }, "Earlier versions"),
        h("button", { type: "button", on: { click: settings } }, "Card and light"),
        h("button", { type: "button", class: "main", on: { click: () => printSheets(view) } }, "Print"),
        h("a", { class: "button", href: "/project?list=1" }, "All projects"),
      ),
    );
  }

  const versions = () =>
    showVersions({
      list: () => get("/project/versions", { project: view.project }),
      restore: (name) => post("/project/restore", { project: view.project, name }),
      taken: async (fresh) => {
        await take(fresh);
        undoNotice("An earlier version is back.");
      },
    });

  const partOf = (name) => view.parts.find((one) => one.name === name) || null;

  async function take(fresh) {
    view = fresh;
    if (left?.project === view.project) chosen = left.chosen;
    left = null;
    if (chosen && !partOf(chosen)) chosen = null;
    await board.load(view);
    await keepFocus(area, () => {
      showTools();
      showParts();
      showPanel();
    });
    marks();
    askCheck();
    overlaps.ask(view).catch(faultNotice);
    root.dataset.version = view.version;
  }

  function marks() {
    const part = chosen && partOf(chosen);
    board.mark({
      chosen: part && !board.pair && !isDab() ? part.areas : [],
      closures: mode === "open",
      free: mode === "add",
      dabs: isDab(),
    });
  }

  function showParts() {
    put(
      parts,
      view.parts.map((part) =>
        h(
          "button",
          {
            type: "button",
            class: "part-chip",
            "aria-pressed": String(part.name === chosen),
            on: { click: () => choose(part.name) },
          },
          h("span", {
            class: "part-strip",
            "aria-hidden": "true",
            style: part.strip.length
              ? {
                  "background-image": across(part.strip.map((one) => one.hex)),
                }
              : {},
          }),
          part.name,
        ),
      ),
      view.areas.some((one) => one.part < 0)
        ? h(
            "span",
            { class: "soft small" },
            `${plural(view.areas.filter((one) => one.part < 0).length, "area")} without a part`,
          )
        : null,
    );
  }

  function showPanel() {
    roving(parts, ".part-chip");
    const part = chosen && partOf(chosen);
    area.classList.toggle("with-part", Boolean(part));
    if (mode === "open") return showGaps();
    if (!part) {
      put(
        panel,
        h("h2", {}, view.parts.length ? "Choose a part" : "Click a part of the drawing"),
        h(
          "p",
          {},
          view.parts.length
            ? "Click it in the drawing, or in the list above it."
            : "Each click on a bare area makes a part. Then choose its base coat; the drawer " +
                "proposes the shadow. Areas that belong together, such as both sleeves, go into one " +
                "part with “Add areas”.",
        ),
        view.remarks.length
          ? h(
              "ul",
              { class: "notes" },
              view.remarks.map((one) => h("li", {}, one)),
            )
          : null,
        freeAreas(),
      );
      return;
    }
    const at = view.parts.indexOf(part);
    partPanel(panel, view, part, {
      act,
      look,
      settle,
      more: freeAreas(part),
      close: () => choose(null),
      next: view.parts.length > 1 ? () => choose(view.parts[(at + 1) % view.parts.length].name) : null,
    });
  }

  // Areas as a list, for hands without a pointer.
  function freeAreas(part = null) {
    const free = view.areas.filter((one) => one.part < 0).sort((a, b) => b.share - a.share);
    if (!free.length) return null;
    const list = choice(
      "area",
      free.map((one) => [
        String(one.number),
        `area ${one.number}, ${(one.share * 100).toFixed(1)} % of the figure`,
      ]),
      String(free[0].number),
    );
    const here = () => free.find((one) => String(one.number) === list.value);
    const show = () => board.mark({ chosen: [...(part ? part.areas : []), here().number] });
    list.addEventListener("change", show);
    list.addEventListener("focus", show);
    return h(
      "details",
      {},
      h("summary", {}, "Areas without a part"),
      field("Area", list),
      h(
        "button",
        {
          type: "button",
          on: {
            click: () =>
              act(
                part ? "/project/part/area" : "/project/part/add",
                part ? { part: part.name, place: [here().x, here().y] } : { place: [here().x, here().y] },
              ),
          },
        },
        part ? `Give it to ${part.name}` : "Make a part of it",
      ),
    );
  }

  function showGaps() {
    const rows = view.closures
      .map((one, place) => ({ one, place }))
      .filter(({ one }) => one.parts_two || !one.on);
    put(
      panel,
      h("h2", {}, "Gaps that were closed"),
      h(
        "p",
        { class: "soft small" },
        rows.length
          ? "Red parts two areas; blue is left open. Violet ones part nothing."
          : "None of them parts two areas.",
      ),
      h(
        "ul",
        { class: "gap-list" },
        rows.map(({ one, place }) => {
          const middle = one.path[Math.floor(one.path.length / 2)];
          const [right, down] = [middle[0] * view.width_mm, middle[1] * view.height_mm].map(Math.round);
          const where = `${right}, ${down} mm`;
          return h(
            "li",
            {},
            h("span", {}, `Gap ${place + 1}`, h("small", {}, `at ${where}`)),
            h(
              "button",
              {
                type: "button",
                on: {
                  click: () =>
                    act("/project/areas", { kind: one.on ? "open" : "close again", stroke: [middle] }),
                },
              },
              one.on ? "Leave open" : "Close again",
            ),
          );
        }),
      ),
    );
  }

  function choose(name) {
    if (mode === "open" && name) modes.querySelector("[data-value=choose]").click();
    chosen = name;
    keepFocus(area, () => {
      showParts();
      showPanel();
    });
    marks();
    panel.scrollTop = 0;
    lift();
  }

  // Where the panel comes up from the lower edge, the drawing moves up to stay in sight.
  function lift() {
    if (chosen && getComputedStyle(panel).position === "fixed") parts.scrollIntoView({ block: "start" });
  }

  // ------------------------------------------------------------ changes

  async function act(path, body, quiet = false) {
    busy += 1;
    area.classList.add("busy");
    try {
      const before = new Set(view.parts.map((one) => one.name));
      const fresh = await post(path, { project: view.project, ...body });
      if (path === "/project/part/add") chosen = fresh.parts.at(-1).name;
      if (body.new_name) chosen = body.new_name;
      await take(fresh);
      if (path === "/project/part/add") lift();
      if (quiet && fresh.done) notice(fresh.done);
      return [...before].length;
    } catch (error) {
      faultNotice(error);
      board.paintAll();
      return null;
    } finally {
      busy -= 1;
      if (!busy) area.classList.remove("busy");
    }
  }

  function click({ share, area: number }) {
    if (mode === "open") return closureAt(share);
    if (isDab()) return stroke([share]);
    if (!number) return choose(null);
    const owner = view.areas.find((one) => one.number === number)?.part ?? -1;
    if (mode === "add" && chosen) {
      const mine = view.parts[owner]?.name === chosen;
      return act("/project/part/area", { part: chosen, place: share, belongs: !mine });
    }
    if (owner >= 0) return choose(view.parts[owner].name);
    return act("/project/part/add", { place: share });
  }

  function closureAt(share) {
    const shape = view.height_px / view.width_px;
    let best = null;
    for (const one of view.closures) {
      for (const [x, y] of one.path) {
        const far = Math.hypot(x - share[0], (y - share[1]) * shape);
        if (!best || far < best.far) best = { far, one };
      }
    }
    if (!best || best.far > 0.03) return notice("No closed gap is near there.");
    const middle = best.one.path[Math.floor(best.one.path.length / 2)];
    act("/project/areas", { kind: best.one.on ? "open" : "close again", stroke: [middle] });
  }

  const undoNotice = (words) =>
    notice(words, { action: { words: "Undo", run: () => act("/project/undo", {}, true) } });

  async function hand(path, body) {
    const before = view.version;
    await act(path, body);
    if (view.version !== before) undoNotice(`${view.undo[0].toUpperCase()}${view.undo.slice(1)}: done.`);
  }

  function stroke(places) {
    if (isDab()) return hand("/project/dab", { place: places[0], kind: mode });
    if (mode === "group") return hand("/project/group", { stroke: places, part: chosen ?? "" });
    if (mode === "merge") {
      const [first, last] = [board.drawing.areaAt(places[0]), board.drawing.areaAt(places.at(-1))];
      if (!first) return notice("Begin the stroke inside an area.");
      if (first === last) return notice("Draw into another area.");
      return last
        ? act("/project/areas", { kind: "merge", stroke: [places[0], places.at(-1)] })
        : act("/project/areas", { kind: "outside", stroke: [places[0]] });
    }
    if (
      places.length < 2 ||
      Math.hypot(places[0][0] - places.at(-1)[0], places[0][1] - places.at(-1)[1]) < 0.002
    )
      return notice("Draw a stroke, not a dot.");
    return act("/project/areas", { kind: mode, stroke: places });
  }

  let lighting = false;
  let wantedLight = null;
  async function lightFrom(light, over) {
    wantedLight = light;
    if (over) return act("/project/set", { light });
    if (lighting) return;
    lighting = true;
    while (wantedLight && board.dragging) {
      const now = wantedLight;
      wantedLight = null;
      await board.load(view, now).catch(faultNotice);
      root.dataset.lit = now;
    }
    lighting = false;
  }

  // Try colours on the drawing while a marker is pointed at; the answer of an older try is dropped.
  let trial = 0;
  async function look(part, markers) {
    const mine = ++trial;
    const named = { base: part.named.base, shadow: part.named.shadow, light: part.named.light, ...markers };
    try {
      const answer = await get("/project/try", {
        project: view.project,
        part: part.name,
        ...named,
        highlight: named.light ? "light" : part.highlight,
      });
      if (mine !== trial || answer.how === "gone") return;
      board.tryRamp(part, answer.ramp);
      root.dataset.tried = Object.values(named).join("/");
    } catch (error) {
      if (mine === trial) faultNotice(error);
    }
  }

  function settle() {
    trial += 1;
    const part = chosen && partOf(chosen);
    if (part) board.tryRamp(part, part.ramp);
  }

  const askCheck = after(350, async () => {
    try {
      const found = await get("/project/check", { project: view.project });
      put(
        check,
        h("h2", {}, "Plan check"),
        h("p", { class: found.fits ? "verdict good" : "verdict bad" }, found.words.join(" ")),
        h(
          "ul",
          {},
          found.findings
            .filter((one) => one.topic !== "overlap") // those are asked above, with the drawing
            .slice(0, 12)
            .map((one) =>
              h(
                "li",
                { class: one.level },
                partOf(one.where)
                  ? h(
                      "button",
                      { type: "button", class: "plain", on: { click: () => choose(one.where) } },
                      one.where,
                    )
                  : h("strong", {}, one.where),
                " ",
                one.words,
              ),
            ),
        ),
      );
    } catch (error) {
      put(check, faultBlock(error));
    }
  });

  // ------------------------------------------------------------ card and light

  function settings() {
    const names = (kind) => store.drawer.others.filter((one) => one.kind === kind).map((one) => one.name);
    const papers = names("paper");
    const paperOf = (role) => view.papers.find((one) => one.role === role)?.name || "";
    dialog("Card and light", () => {
      const on = (input, run) => (input.addEventListener("change", () => run(input.value)), input);
      const number = (value, given) => h("input", { type: "number", value, step: "0.1", ...given });
      const greeting = view.greeting || { words: "", ink: names("ink")[0] || "", size_pt: 18, bold: false };
      const words = text("words", greeting.words, { maxlength: "200" });
      const ink = choice("ink", names("ink"), greeting.ink);
      const size = number(greeting.size_pt, { min: "3", max: "400", step: "1" });
      const greet = () =>
        act("/project/greeting", {
          words: words.value,
          ink: ink.value,
          size_pt: Number(size.value) || 18,
          bold: greeting.bold,
        });
      for (const one of [words, ink, size]) one.addEventListener("change", greet);
      return h(
        "div",
        {},
        field(
          "Title",
          on(text("name", view.name), (name) => act("/project/set", { name })),
        ),
        h(
          "div",
          { class: "row" },
          field(
            "Coloured on",
            on(
              choice(
                "paper",
                [["", `the drawer's usual: ${store.state.usual_paper}`], ...papers],
                view.paper,
              ),
              (paper) => act("/project/set", { paper }),
            ),
          ),
          field(
            "Lines in",
            on(choice("outline", [["", "black"], ...names("ink")], view.outline), (outline) =>
              act("/project/set", { outline }),
            ),
          ),
        ),
        h(
          "div",
          { class: "row" },
          field(
            "Shadow, mm",
            on(number(view.shadow_mm, { min: "0.2", max: "100" }), (value) =>
              act("/project/set", { shadow_mm: Number(value) }),
            ),
          ),
          field(
            "Softness, mm",
            on(number(view.softness_mm, { min: "0.1", max: "100" }), (value) =>
              act("/project/set", { softness_mm: Number(value) }),
            ),
          ),
          field(
            "Image width, mm",
            on(number(view.width_mm, { min: "5", max: "2000" }), (value) =>
              act("/project/set", { width_mm: Number(value) }),
            ),
          ),
          field(
            "Light, o'clock",
            on(text("light", view.light, { maxlength: "10" }), (light) => act("/project/set", { light })),
          ),
        ),
        h("h3", {}, "The card"),
        h(
          "div",
          { class: "row" },
          [
            ["card", "Card base"],
            ["mat", "Mat"],
            ["accent", "Accent"],
          ].map(([role, label]) =>
            field(
              label,
              on(choice(role, [["", "none"], ...papers], paperOf(role)), (name) =>
                act("/project/paper", { role, name }),
              ),
            ),
          ),
          field(
            "Ribbon",
            on(choice("ribbon", [["", "none"], ...names("ribbon")], paperOf("ribbon")), (name) =>
              act("/project/paper", { role: "ribbon", name }),
            ),
          ),
        ),
        h("div", { class: "row" }, field("Greeting", words), field("In", ink), field("Size, pt", size)),
        h(
          "div",
          { class: "row" },
          field(
            "White rim, mm",
            on(number(view.rim_mm, { min: "0", max: "50" }), (value) =>
              act("/project/set", { rim_mm: Number(value) }),
            ),
          ),
          field(
            "Thin things",
            on(
              choice(
                "spikes",
                [
                  ["bridge", "wrapped in the rim"],
                  ["cut", "cut straight past"],
                ],
                view.spikes,
              ),
              (spikes) => act("/project/set", { spikes }),
            ),
          ),
          field(
            "Sheets",
            on(choice("page", ["A4", "Letter"], view.page), (page) => act("/project/set", { page })),
          ),
        ),
      );
    });
  }

  // ------------------------------------------------------------ opening

  async function enter(given) {
    const project = given.get("project");
    chosen = null;
    if (project) return start(project);
    if (!given.get("list")) {
      const { asked } = await get("/projects");
      const last = left?.project || asked;
      if (last) return start(last);
    }
    return list();
  }

  const look4changes = setInterval(async () => {
    if (!view || document.hidden || busy || board?.dragging) return;
    try {
      const fresh = await get("/project", { project: view.project });
      if (!busy && view && fresh.project === view.project && fresh.version !== view.version)
        await take(fresh);
    } catch {
      // The desk says elsewhere when it is closed; a file that is spoilt just now is asked for again.
    }
  }, 5000);

  await enter(params);
  return {
    refresh: async (what) => {
      await loadDrawer();
      document.dispatchEvent(new Event("blendkit-drawer"));
      if (view && what === "palette")
        take(await get("/project", { project: view.project })).catch(faultNotice);
    },
    update: (given) => enter(given),
    close: () => {
      clearInterval(look4changes);
      left = view && { project: view.project, chosen, mode };
    },
    undo: () => view?.undo && act("/project/undo", {}, true),
    redo: () => view?.redo && act("/project/redo", {}, true),
  };
}
