// Scrap test: print a chart; later read the coloured one, and take what was read into the drawer.

import { address, get, post, send } from "../api.js";
import { after, h, plural, put } from "../dom.js";
import { choice, dropZone, field, segments, text, tick } from "../fields.js";
import { finder } from "../finder.js";
import { go } from "../go.js";
import { isEmpty } from "../empty.js";
import { dialog, faultBlock, faultNotice, notice, work } from "../notice.js";
import { CAUTION, PICTURES } from "../facts.js";
import { accept, loadDrawer, store } from "../store.js";
import { chip, dab, labText, strip, sureWords } from "../swatch.js";

const held = { job: null, result: null };

const isRead = (one) => one.lab && one.kind !== "paper";

export async function open(root, params) {
  await loadDrawer();
  document.dispatchEvent(new Event("blendkit-drawer"));
  if (
    isEmpty(
      root,
      "Scrap test",
      "A chart has a box for each of your markers, and the drawer has none yet. A rough colour " +
        "for each is enough: the coloured chart makes it true.",
    )
  )
    return {
      refresh: () => store.state.counts.marker && go("scrap", {}, { again: true }),
    };
  const view = {
    step: params.get("step") || (held.result ? "read" : "print"),
    which: "all",
    names: params.getAll("name"),
    family: "",
    coats: "1",
    blends: false,
    lifts: false,
    expected: true,
    size: "A4",
    landscape: false,
    page: 1,
  };
  if (view.names.length) view.which = "some";
  const area = h("div");
  put(
    root,
    h("h1", { class: "unseen" }, "Scrap test"),
    h(
      "div",
      { class: "scrap-steps" },
      segments(
        "Step",
        [
          ["print", "1  Print a chart"],
          ["read", "2  Read the coloured chart"],
        ],
        view.step,
        (step) => ((view.step = step), show()),
      ),
    ),
    area,
  );
  const show = () => (view.step === "print" ? showPrint() : showRead());

  // ------------------------------------------------------------ print

  function asked() {
    const given = {
      coats: view.coats,
      family_blends: String(view.blends),
      lifts: String(view.lifts),
      expected: String(view.expected),
      size: view.size,
      landscape: String(view.landscape),
      on: store.on,
    };
    if (view.which === "some") given.names = view.names;
    if (view.which === "family") given.families = [view.family];
    if (view.which === "unmeasured") given.unmeasured = "true";
    return given;
  }

  function showPrint() {
    const { families } = store.drawer;
    if (!view.family) view.family = families[0] || "";
    const preview = h("div", { class: "chart-preview", "aria-live": "polite" });
    const load = after(150, () => loadChart(preview));
    const some = h("div", { class: "some" });
    const change = (key) => (value) => {
      view[key] = value;
      view.page = 1;
      if (key === "which") showSome();
      load();
    };
    const showSome = () => {
      if (view.which === "family") {
        const list = choice("family", families, view.family);
        list.addEventListener("change", () => change("family")(list.value));
        return put(some, field("Family", list));
      }
      if (view.which !== "some") return put(some);
      const find = finder({
        label: "Add a marker",
        kinds: ["marker"],
        hint: "name",
        choose: (text) =>
          store.drawer.byName.has(text.toLowerCase()) &&
          ((view.names = [...new Set([...view.names, text])]), showSome(), load()),
      });
      put(
        some,
        find.element,
        h(
          "ul",
          { class: "chips" },
          view.names.map((name) =>
            h(
              "li",
              {},
              chip(store.drawer.byName.get(name.toLowerCase())?.hex || "#fff"),
              name,
              h(
                "button",
                {
                  type: "button",
                  class: "plain close",
                  "aria-label": `Leave ${name} out`,
                  on: {
                    click: () => (
                      (view.names = view.names.filter((one) => one !== name)),
                      showSome(),
                      load()
                    ),
                  },
                },
                "×",
              ),
            ),
          ),
        ),
      );
    };
    put(
      area,
      h(
        "div",
        { class: "scrap-grid" },
        h(
          "div",
          { class: "scrap-form" },
          h("h2", {}, "Which markers?"),
          segments(
            "Which markers",
            [
              ["all", "All"],
              ["unmeasured", "Not yet measured"],
              ["family", "A family"],
              ["some", "Some"],
            ],
            view.which,
            change("which"),
          ),
          some,
          h("h2", {}, "What to colour"),
          h(
            "div",
            { class: "lean" },
            h("span", {}, "Boxes each"),
            segments(
              "Coats",
              [
                ["1", "1 coat"],
                ["2", "1, 2"],
                ["3", "1, 2, 3 coats"],
              ],
              view.coats,
              change("coats"),
            ),
          ),
          store.state.blenders.length
            ? tick("A box each for “one coat, then blender”", view.lifts, change("lifts"))
            : null,
          tick("Blend strips within each family", view.blends, change("blends")),
          tick("Print the colour expected", view.expected, change("expected")),
          h(
            "div",
            { class: "lean" },
            h("span", {}, "Sheet"),
            segments(
              "Sheet",
              [
                ["A4", "A4"],
                ["Letter", "Letter"],
              ],
              view.size,
              change("size"),
            ),
          ),
          tick("On its side", view.landscape, change("landscape")),
          h(
            "p",
            { class: "caution-box" },
            h("strong", {}, "Print at 100 %, "),
            `never “fit to page”. Let every box dry before you photograph it. ${CAUTION}`,
          ),
        ),
        preview,
      ),
    );
    showSome();
    loadChart(preview);
  }

  let turn = 0;
  async function loadChart(preview) {
    const mine = ++turn;
    if (view.which === "some" && !view.names.length)
      return put(preview, h("p", { class: "nothing" }, "Add the markers that you want on the chart."));
    try {
      const chart = await get("/chart", asked());
      if (mine !== turn) return;
      view.page = Math.min(view.page, chart.pages);
      const image = h("img", {
        class: "chart-page",
        alt: `Page ${view.page} of the chart`,
        src: address("/chart/page", { ...asked(), page: view.page }),
      });
      const turnTo = (page) => {
        view.page = page;
        loadChart(preview);
      };
      put(
        preview,
        h(
          "div",
          { class: "chart-head" },
          h(
            "div",
            {},
            h("h2", {}, chart.title),
            h(
              "p",
              { class: "soft" },
              `${plural(chart.boxes, "box", "boxes")} on ${plural(chart.pages, "page")}, chart ` +
                `${chart.chart_id}, to colour on ${chart.paper}`,
            ),
          ),
          h(
            "div",
            { class: "acts" },
            h(
              "a",
              {
                class: "button main",
                href: address("/chart/print", asked()),
                target: "_blank",
                rel: "noopener",
                id: "print-chart",
              },
              "Open to print",
            ),
            h(
              "a",
              {
                class: "button",
                href: address("/chart/print", {
                  ...asked(),
                  form: "description",
                }),
                download: `chart-${chart.chart_id}.chart.json`,
              },
              "Its description file",
            ),
          ),
        ),
        image,
        chart.pages > 1
          ? h(
              "div",
              { class: "pages" },
              h(
                "button",
                {
                  type: "button",
                  disabled: view.page < 2,
                  on: { click: () => turnTo(view.page - 1) },
                },
                "Page before",
              ),
              h("span", {}, `${view.page} of ${chart.pages}`),
              h(
                "button",
                {
                  type: "button",
                  disabled: view.page >= chart.pages,
                  on: { click: () => turnTo(view.page + 1) },
                },
                "Next page",
              ),
            )
          : null,
        chart.notes.length
          ? h(
              "ul",
              { class: "notes" },
              chart.notes.map((note) => h("li", {}, note)),
            )
          : null,
      );
    } catch (error) {
      if (mine === turn) put(preview, faultBlock(error));
    }
  }

  // ------------------------------------------------------------ read

  function showRead(error = null) {
    if (held.result) return showFound();
    const setup = text("setup", held.setup || "desk", {
      maxlength: "100",
      on: { input: () => (held.setup = setup.value) },
    });
    put(
      area,
      h(
        "div",
        { class: "photo-welcome" },
        h("h2", { class: "big" }, "Read the coloured chart"),
        h(
          "p",
          { class: "lead" },
          "A flatbed scan is surest. For a photo: the whole page, from straight above, even " +
            "daylight, no flash, no shadow of yours. Several pages at once are fine.",
        ),
        error ? faultBlock(error) : null,
        field(
          "Name of this camera and light",
          setup,
          "Readings of one set-up are compared with each other more closely than with others.",
        ),
        dropZone("Drop the photos or scans here, or choose them", `${PICTURES},.json`, take, {
          multiple: true,
          note: "With the chart's description file, if the code on the page can't be read.",
        }),
      ),
    );
  }

  async function take(files) {
    try {
      put(area, h("p", { class: "soft" }, `Sending ${plural(files.length, "file")} to the desk …`));
      const body = {
        files: [],
        chart: undefined,
        setup: (held.setup || "desk").trim(),
      };
      for (const file of files) {
        const sent = await send("/scan/file", {}, file);
        if (file.name.endsWith(".json")) body.chart = sent.file;
        else body.files.push(sent.file);
      }
      const { job } = await post("/scan", body);
      held.job = job;
      held.result = await work(area, job, "Reading the coloured chart");
      held.mended = false;
      choose();
      held.added = new Set();
      held.lifts = new Set(held.result.lifts.map((one) => one.marker));
      showFound();
    } catch (error) {
      held.result = null;
      showRead(error);
    }
  }

  const rowsOf = () => (held.mended ? held.result.mended : held.result.proposed);

  // What is ticked at first: all but what the drawer holds surer, and what is most unlikely.
  function choose() {
    const rows = rowsOf();
    held.chosen = new Set(
      rows.map((_, place) => place).filter((place) => !rows[place].old_is_surer && !rows[place].ask),
    );
  }

  function showFound() {
    const { scan, unknown, lifts, views, findings, mended } = held.result;
    const proposed = rowsOf();
    const count = h("span", {});
    const button = h("button", { type: "button", class: "main", on: { click: takeIn } }, count);
    const over = h("p", { class: "caution", role: "status" });
    const recount = () => {
      const read = held.chosen.size + held.lifts.size;
      const parts = [
        read || !held.added.size ? plural(read, "reading") : "",
        held.added.size ? plural(held.added.size, "new marker") : "",
      ];
      count.textContent = `Take ${parts.filter(Boolean).join(" and ")} into the drawer`;
      button.disabled = !read && !held.added.size;
      const surer = proposed.filter((one, place) => one.old_is_surer && held.chosen.has(place)).length;
      over.textContent = surer
        ? `${plural(surer, "chosen reading")} would replace what the drawer holds surer, or on ` +
          `another paper. Right only if marker or paper has changed.`
        : "";
    };
    const boxes = [];
    const all = (on) => {
      held.chosen = new Set(on ? proposed.map((_, place) => place) : []);
      boxes.forEach((box, place) => (box.checked = held.chosen.has(place)));
      recount();
    };
    const rows = proposed.map((one, place) => {
      const box = h("input", {
        type: "checkbox",
        checked: held.chosen.has(place),
        "aria-label": `Take ${one.marker}, ${plural(one.coats, "coat")}`,
        on: {
          change: () => (held.chosen[box.checked ? "add" : "delete"](place), recount()),
        },
      });
      boxes.push(box);
      return h(
        "tr",
        { class: one.old_is_surer || one.ask ? "surer" : "" },
        h("td", {}, h("label", { class: "tick" }, box)),
        h(
          "td",
          {},
          h("strong", {}, one.marker),
          h("small", { class: "block" }, plural(one.coats, "coat")),
          one.ask || one.old_is_surer
            ? h("small", { class: "keep" }, one.ask ? "look first" : "keep the old")
            : null,
        ),
        h(
          "td",
          {},
          h(
            "span",
            { class: "old-new", "aria-hidden": "true" },
            h("i", {
              style: one.old ? { "background-color": one.old.hex } : {},
            }),
            h("i", { style: { "background-color": one.new.hex } }),
          ),
        ),
        h(
          "td",
          { class: "read-lab" },
          labText(one.new_lab),
          h("small", { class: "block" }, sureWords(one.uncertainty)),
        ),
        h("td", {}, one.delta_e_2000 === null ? "new" : one.delta_e_2000.toFixed(1)),
        h("td", { class: "wide-only" }, one.words),
      );
    });
    const isHeld = store.state.papers.includes(scan.paper);
    const papers = choice("on", store.state.papers, isHeld ? scan.paper : store.state.usual_paper);
    const otherPaper =
      scan.paper && !isHeld ? `The chart was made for “${scan.paper}”, which the drawer doesn't have.` : "";
    papers.addEventListener("change", () => (held.paper = papers.value));
    held.paper = papers.value;
    const flagged = scan.readings.filter((one) => one.words);
    put(
      area,
      h(
        "div",
        { class: "scan-grid" },
        h(
          "div",
          { class: "scan-views" },
          views.map((file, place) =>
            h(
              "a",
              {
                href: address("/file", { file }),
                target: "_blank",
                rel: "noopener",
              },
              h("img", {
                src: address("/file", { file }),
                alt:
                  `Page ${scan.pages[place]?.page ?? place + 1}, each found box outlined, the ` +
                  `colour read above the colour expected`,
              }),
            ),
          ),
        ),
        h(
          "div",
          {},
          h("h2", {}, `${scan.title}: ${plural(scan.readings.filter(isRead).length, "box", "boxes")} read`),
          findings.length
            ? h(
                "div",
                { class: "caution", role: "note" },
                h("strong", {}, "Please look first"),
                h(
                  "ul",
                  {},
                  findings.map((words) => h("li", {}, words)),
                ),
                mended.length
                  ? h(
                      "button",
                      { type: "button", on: { click: mend } },
                      held.mended ? "As on the page" : "Mend it",
                    )
                  : null,
              )
            : null,
          scan.notes.length
            ? h(
                "ul",
                { class: "notes" },
                scan.notes.map((note) => h("li", {}, note)),
              )
            : null,
          scan.pages_missing.length
            ? h("p", { class: "caution" }, `No picture showed page ${scan.pages_missing.join(", ")}.`)
            : null,
          proposed.length || unknown.length
            ? [
                store.state.papers.length ? field("It was coloured on", papers, otherPaper) : null,
                h(
                  "div",
                  { class: "acts" },
                  button,
                  h("button", { type: "button", on: { click: () => all(true) } }, "All"),
                  h("button", { type: "button", on: { click: () => all(false) } }, "None"),
                  h(
                    "button",
                    {
                      type: "button",
                      on: { click: () => ((held.result = null), showRead()) },
                    },
                    "Read another",
                  ),
                ),
                over,
                lifts.length ? lifted(lifts, recount) : null,
                unknown.length ? newcomers(unknown, recount) : null,
                proposed.length
                  ? h(
                      "div",
                      { class: "scroll" },
                      h(
                        "table",
                        { class: "readings" },
                        h("caption", { class: "unseen" }, "What was read, beside what the drawer holds"),
                        h(
                          "thead",
                          {},
                          h(
                            "tr",
                            {},
                            ["Take", "Marker", "Old, new", "Read", "Change"].map((word) =>
                              h("th", { scope: "col" }, word),
                            ),
                            h("th", { scope: "col", class: "wide-only" }, "What it means"),
                          ),
                        ),
                        h("tbody", {}, rows),
                      ),
                    )
                  : null,
              ]
            : [
                h("p", { class: "nothing" }, "No box of this chart can be taken into the drawer."),
                h(
                  "button",
                  {
                    type: "button",
                    on: { click: () => ((held.result = null), showRead()) },
                  },
                  "Read another",
                ),
              ],
          flagged.length
            ? h(
                "details",
                {},
                h("summary", {}, `${plural(flagged.length, "box", "boxes")} with a remark`),
                h(
                  "ul",
                  { class: "notes" },
                  flagged.map((one) => h("li", {}, h("strong", {}, one.label), `: ${one.words}`)),
                ),
              )
            : null,
        ),
      ),
    );
    recount();
  }

  // What the blender does to one coat, each with a tick that keeps it with its marker.
  const lifted = (lifts, recount) =>
    h(
      "section",
      { class: "newcomers" },
      h("h3", {}, "What the colourless blender does to one dry coat"),
      h(
        "ul",
        {},
        lifts.map((one) =>
          h(
            "li",
            {},
            tick(`${one.marker}: ${one.words}`, held.lifts.has(one.marker), (on) => {
              held.lifts[on ? "add" : "delete"](one.marker);
              recount();
            }),
            strip([one.coat, one.lifted]),
          ),
        ),
      ),
    );

  // Markers on the chart that the drawer lacks, each with a tick that adds it.
  function newcomers(unknown, recount) {
    const paper = store.drawer.byName.get((held.paper || "").toLowerCase())?.hex;
    return h(
      "section",
      { class: "newcomers" },
      h("h3", {}, `${plural(unknown.length, "marker")} on the chart that the drawer doesn't have`),
      h("p", { class: "soft" }, "Tick what you want to add."),
      h(
        "ul",
        {},
        unknown.map((one) => {
          const box = h("input", {
            type: "checkbox",
            checked: held.added.has(one.marker),
            disabled: !one.addable,
            on: {
              change: () => (held.added[box.checked ? "add" : "delete"](one.marker), recount()),
            },
          });
          const read =
            `${one.coats.map((coat) => coat.coats).join(" and ")} ` +
            `${one.coats.at(-1).coats === 1 ? "coat" : "coats"}, ` +
            sureWords(Math.max(...one.readings.map((row) => row.uncertainty)));
          return h(
            "li",
            {},
            h(
              "label",
              { class: "newcomer" },
              dab(one, paper),
              box,
              h(
                "span",
                {},
                h("strong", {}, one.marker),
                h("small", { class: "block" }, one.words),
                h("small", { class: "block" }, read),
              ),
            ),
          );
        }),
      ),
    );
  }

  function mend() {
    held.mended = !held.mended;
    choose();
    showFound();
  }

  // A question before what is most unlikely is taken: true when the person says so.
  function askAbout(rows) {
    return dialog("Are these right?", (close) =>
      h(
        "div",
        {},
        h("p", {}, "These readings are most unlikely. Look at their boxes before you take them."),
        h(
          "ul",
          { class: "notes" },
          rows.slice(0, 8).map((one) => h("li", {}, h("strong", {}, one.marker), `: ${one.words}`)),
          rows.length > 8 ? h("li", {}, `and ${rows.length - 8} more`) : null,
        ),
        h(
          "div",
          { class: "dialog-acts" },
          h("button", { type: "button", on: { click: () => close(false) } }, "Back"),
          h("button", { type: "button", class: "main", on: { click: () => close(true) } }, "Take them"),
        ),
      ),
    );
  }

  async function takeIn() {
    const proposed = rowsOf();
    const taken = [
      ...[...held.chosen].map((place) => proposed[place]),
      ...held.result.unknown.filter((one) => held.added.has(one.marker)).flatMap((one) => one.readings),
    ];
    const unlikely = taken.filter((one) => one.ask);
    if (unlikely.length && !(await askAbout(unlikely))) return;
    try {
      const state = await post("/scan/accept", {
        job: held.job,
        accept: [...held.chosen].map((place) => ({
          marker: proposed[place].marker,
          coats: proposed[place].coats,
        })),
        add: [...held.added],
        lifts: [...held.lifts],
        mended: held.mended,
        unlikely: unlikely.length > 0,
        on: held.paper || undefined,
      });
      held.result = null;
      accept(state);
      notice(state.done, {
        action: {
          words: "Undo",
          run: () => post("/undo").then(accept).catch(faultNotice),
        },
      });
      showRead();
    } catch (error) {
      faultNotice(error);
    }
  }

  show();
  return {
    refresh: async () => {
      await loadDrawer();
      document.dispatchEvent(new Event("blendkit-drawer"));
      if (view.step === "print") show();
    },
  };
}
