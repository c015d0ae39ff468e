// Saving the sheet, measuring by it, and the end.
import { byId, fill, make } from "./dom.js";
import { outgoing } from "./follows.js";
import { ask, pause, tell } from "./server.js";
import { forget, rebase } from "./history.js";
import { changed, listen, state } from "./state.js";

const LOOK_MS = 300;

const told = (said) => [make("p", { class: "notice" }, make("b", {}, `${said.says} `), said.hint)];

const folded = (title, text) => make("details", {}, make("summary", {}, title), make("pre", { tabIndex: 0 }, text));

// Saves; whether the sheet is on disk as it is here.
const save = async (over) => {
  byId("changed").hidden = true;
  const said = await tell("/sheet/save", over ? { draft: outgoing(), over } : { draft: outgoing() });
  if (said.state === "written") {
    state.unsaved = false;
    if (said.draft) adopt(said.draft);
    const places = said.pointed ? " It holds places in the picture, so it fits this clip only." : " It holds no places in this picture, so it fits other clips of the same car and floor too.";
    fill(byId("saved"), make("p", {}, make("b", {}, "Saved."), places), folded("The sheet as it is written", said.text));
    return true;
  }
  if (said.state === "changed") showChanged(said);
  else if (said.state === "incomplete") {
    const which = said.faults.length > 0 ? `${said.faults.length} marked ${said.faults.length === 1 ? "field is" : "fields are"} not right` : state.follows?.missing.find((one) => one.needed)?.does ?? "something is missing";
    fill(byId("saved"), make("p", { class: "notice" }, make("b", {}, "Not saved: "), `${which}.`.replace("..", ".")));
  } else fill(byId("saved"), ...told(said));
  return false;
};

// What was written takes the places of the marks on disk; what is not written there stays on the page.
const adopt = (draft) => {
  for (const list of ["floor_marks", "more_wheel_marks"]) {
    draft[list].forEach((mark, row) => { if (state.draft[list][row]) state.draft[list][row].from = mark.from; });
  }
  if (state.draft.wheel_mark && draft.wheel_mark) state.draft.wheel_mark.from = draft.wheel_mark.from;
  rebase(state.draft);
};

const showChanged = ({ disk, key, would_be: wouldBe }) => {
  const again = async () => {
    const said = await tell("/sheet/again");
    byId("changed").hidden = true;
    if (!said.ok) { fill(byId("saved"), ...told(said)); return; }
    if (said.exists) { state.draft = said.draft; forget(); }
    changed("marks");
    state.unsaved = false;
    fill(byId("saved"), make("p", {}, said.exists ? "Read again from disk." : "The file is gone; what is on this page was kept."));
  };
  fill(byId("changed"),
    make("p", {}, make("b", {}, disk === null ? "The sheet was deleted since this page read it." : "The sheet has changed on disk since this page read it."), " Nothing was written."),
    disk !== null && folded("What is on disk now", disk),
    folded("What would be written: the numbers of this page, all else as it is on disk", wouldBe),
    make("p", { class: "buttons" },
      make("button", { type: "button", onclick: again }, "Read it again (what was typed here goes)"), " ",
      make("button", { type: "button", onclick: () => save(key) }, "Write this page\u2019s numbers into it")));
  byId("changed").hidden = false;
  byId("changed").querySelector("button").focus();
};

// Brings something before the eyes of whoever reads, and the keyboard to it.
const lookAt = (element) => {
  element.tabIndex = -1;
  element.focus({ preventScroll: true });
  element.scrollIntoView({ block: "start" });
};

const hideResult = () => {
  byId("result").hidden = true;
  byId("report-here").replaceChildren();
};

// Below the picture and the questions, over the whole width of the page: the verdict in a line, all of it folded,
// and the report.
const report = (words) => {
  const [verdict] = words.split("\n");
  byId("measured").replaceChildren();
  fill(byId("verdict-here"),
    make("p", { role: "status", class: "next verdict" }, verdict),
    words.trim() !== verdict && folded("In words, with what to try", words),
    make("p", {}, make("a", { href: "/report", target: "_blank", rel: "noopener" }, "Open the report full size in a new tab")));
  byId("report-here").replaceChildren(make("iframe", { title: "Report of this run", src: "/report" }));
  byId("result").hidden = false;
  lookAt(byId("result"));
};

const follow = async () => {
  const line = make("p", { role: "status", class: "next" }, "Measuring \u2026");
  const bar = make("progress", { max: 1, "aria-label": "Measuring" });
  byId("measured").replaceChildren(line, bar);
  hideResult();
  lookAt(byId("measured"));
  for (;;) {
    const said = await ask("/standing");
    if (!said.ok) { fill(byId("measured"), ...told(said)); return; }
    const { measuring } = said;
    if (measuring.state === "done") { report(said.words); return; }
    if (measuring.state === "failed") { fill(byId("measured"), ...told(measuring)); return; }
    if (measuring.expected) bar.value = Math.min(1, measuring.done / measuring.expected);
    fill(line, measuring.expected && measuring.done * 2 >= measuring.expected ? "Measuring: working out how sure the numbers are, drawing pictures \u2026" : "Measuring: following the marks \u2026");
    await pause(LOOK_MS);
  }
};

const measure = async (replace) => {
  if (!(await save())) {
    if (byId("changed").hidden) byId("saved").scrollIntoView({ block: "nearest" });
    return;
  }
  const before = await ask("/standing");
  if (before.result_exists && !replace) {
    byId("measured").replaceChildren(make("p", {}, "This clip has a result already, in ", make("code", {}, before.results), "."),
      make("p", { class: "buttons" }, make("button", { type: "button", onclick: () => measure(true) }, "Measure again and replace it"), " ",
        before.report_exists && make("button", { type: "button", onclick: () => report("The earlier result") }, "Show its report")));
    byId("measured").querySelector("button").focus();
    return;
  }
  const said = await tell("/measure", { replace });
  if (said.ok) await follow();
  else fill(byId("measured"), ...told(said));
};

const end = async () => {
  if (state.unsaved && !byId("done").dataset.sure) {
    byId("done").dataset.sure = "yes";
    fill(byId("done"), "Not everything is saved. Press again to finish without saving");
    return;
  }
  state.over = true;
  const said = await tell("/done");
  state.over = said.ok;
  if (!said.ok) { fill(byId("trouble-at-end"), ...told(said)); return; }
  byId("all").hidden = true;
  document.querySelector("header").hidden = true;
  fill(byId("over-words"), "Gripline has stopped. You can close this window.");
  byId("over").hidden = false;
};

export const beginFinish = (standing) => {
  fill(byId("sheet-name"), standing.sheet);
  byId("save").addEventListener("click", () => save());
  byId("measure").addEventListener("click", () => measure(false));
  byId("done").addEventListener("click", end);
  listen((what) => {
    if (what !== "text" && what !== "marks") return;
    if (byId("saved").firstChild) fill(byId("saved"));
    if (byId("done").dataset.sure) { delete byId("done").dataset.sure; fill(byId("done"), "Finish"); }
  });
};
