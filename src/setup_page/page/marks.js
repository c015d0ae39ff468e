// Which patch is which mark: the list of patches, and the one that was chosen in the picture.
import { byId, choice, fill, make } from "./dom.js";
import { goTo, pointAt } from "./picture.js";
import { patchWords, ROLES, shape, swatch } from "./shapes.js";
import { showAim } from "./aim.js";
import { fieldBox } from "./sizes.js";
import { canDoAgain, canTakeBack, doAgain, remember, takeBack } from "./history.js";
import { changed, listen, markOf, marks, nameOf, patchOf, placeOf, setColour, setRole, state, takeOut } from "./state.js";

const colours = (own) => [...(own ? [] : [["", "by what it is"]]), ...state.colours.map((colour) => [colour, colour])];

const colourOf = (mark, name) => choice(colours(mark.part.texts.colour), mark.part.texts.colour, `Colour of ${name}`, (own) => setColour(mark, own));

// What it is: the question about a patch. A list that opens would answer with every
// arrow key on the way; buttons answer when they are pressed.
const question = (patch) => {
  const mark = markOf(patch);
  const name = nameOf(mark, patch);
  const is = answerOf(mark);
  // One wheel mark is enough: a second is asked about only where something moves in another colour than the first's.
  const first = state.draft.wheel_mark?.texts.colour;
  const roles = Object.keys(ROLES).filter((role) => role !== "more_wheel_marks" || is === role
    || (is === "" && patch.manner !== "still" && first && first !== patch.colour));
  const answer = (role) => make("button", {
    type: "button", class: "role", "aria-pressed": String(is === role), title: ROLES[role].long,
    "data-patch": patch.number, "data-role": role, onclick: () => answered(patch, role),
  }, shape(role), ROLES[role].short);
  return make("span", { class: "roles", role: "group", "aria-label": `What ${name} is` }, ...roles.map(answer));
};

// The answer to that question.
const answerOf = (mark) => (mark?.role === "wheel_mark" && mark.row !== null ? "more_wheel_marks" : mark?.role ?? "");

const answered = (patch, role) => {
  if (answerOf(markOf(patch)) !== role) setRole(patch, role);
  state.chosen = markOf(patch)?.key ?? `patch.${patch.number}`;
  changed("choice");
};

const row = (patch) => {
  const mark = markOf(patch);
  const name = nameOf(mark, patch);
  return make("li", { class: mark ? "is-mark" : "" },
    make("button", { type: "button", class: "badge", "aria-label": `Show ${name} in the picture`, onclick: () => show(patch) },
      shape(mark?.role ?? ""), make("b", {}, name)),
    make("span", { class: "patch-words asked" }, swatch(patch.colour), mark ? colourOf(mark, name) : make("b", {}, patch.colour || "your own"),
      make("span", {}, patchWords(patch, state.times.length))),
    question(patch));
};

const show = (patch) => {
  if (!placeOf(patch)) goTo(Math.max(0, patch.places.findIndex(Boolean)));
  state.chosen = markOf(patch)?.key ?? `patch.${patch.number}`;
  changed("choice");
  byId("window").scrollIntoView({ block: "nearest" });
};

// Focus stays on the question that was answered, although the list is made anew.
const keepFocus = (draw) => {
  const own = document.activeElement;
  const where = own?.closest?.("[id]")?.id;
  const { patch, role } = own?.dataset ?? {};
  const label = own?.getAttribute?.("aria-label");
  draw();
  if (own && !own.isConnected && where) {
    const again = [...byId(where).querySelectorAll(own.tagName)].find((other) => (patch ? other.dataset.patch === patch && other.dataset.role === role : label && other.getAttribute("aria-label") === label));
    again?.focus({ preventScroll: true });
  }
};

// Marks of the car, then floor marks by their numbers, then what is no mark.
const rank = (patch) => {
  const mark = markOf(patch);
  return mark?.role === "floor_mark" ? Number(nameOf(mark).slice(1)) : mark ? 0 : Infinity;
};

const drawList = () => keepFocus(() => {
  const first = state.patches.filter((patch) => markOf(patch) || patch.likely).sort((a, b) => (rank(a) > rank(b) ? 1 : rank(a) < rank(b) ? -1 : 0));
  const rest = state.patches.filter((patch) => !first.includes(patch));
  fill(byId("patches"), ...first.map(row));
  fill(byId("more-patches"), ...rest.map(row));
  byId("more").hidden = rest.length === 0;
  byId("more").open ||= first.length === 0;
  fill(byId("more").querySelector("summary"), `${rest.length} more ${rest.length === 1 ? "patch" : "patches"}, probably not yours`);
});

const chosenThing = () => {
  const mark = marks().find((own) => own.key === state.chosen) ?? null;
  const patch = mark ? patchOf(mark) : state.patches.find((own) => `patch.${own.number}` === state.chosen) ?? null;
  return { mark, patch };
};

// What was chosen in the picture, just below it: so that a thumb need not go far.
const drawChosen = () => keepFocus(() => {
  const { mark, patch } = chosenThing();
  if (!mark && !patch) {
    fill(byId("chosen"), make("p", { class: "fine" }, "Click a mark in the picture to say what it is."));
    return;
  }
  const name = ROLES[mark?.role ?? ""].long;
  const called = mark?.role === "floor_mark" ? `Floor mark ${nameOf(mark)}` : mark ? `${nameOf(mark)}, ${name}` : `Patch ${patch.number}`;
  const title = make("p", {}, shape(mark?.role ?? ""), make("b", {}, called),
    patch ? `: ${patch.colour || "your own"}, ${patchWords(patch, state.times.length)}` : ": you put it here, no patch was found");
  const asked = [patch && question(patch), mark && colourOf(mark, nameOf(mark))];
  const numbers = mark?.role === "floor_mark" ? ["x_mm", "y_mm"].map((key) => fieldBox(`${key[0]}`, `floor_mark.${mark.row}.${key}`)) : [];
  const out = mark && make("button", { type: "button", class: "out", onclick: () => { state.chosen = null; takeOut(mark); } }, "Remove");
  fill(byId("chosen"), title, make("div", { class: "asked" }, ...asked.filter(Boolean), ...numbers, out));
});

const offerSteps = () => {
  for (const [id, can] of [["take-back", canTakeBack()], ["do-again", canDoAgain()]]) {
    const button = byId(id);
    if (document.activeElement === button && !can) byId("point").focus();
    button.disabled = !can;
  }
};

const step = (how) => { how(); showAim(); };

// Text fields have their own ways back, letter by letter.
const inText = (element) => element.matches("input:not([type=range]):not([type=checkbox]):not([type=radio]), textarea");

const byKeys = (event) => {
  const key = event.key.toLowerCase();
  if (!(event.ctrlKey || event.metaKey) || event.altKey || inText(event.target)) return;
  if (key === "z" && !event.shiftKey) step(takeBack);
  else if (key === "y" || key === "z") step(doAgain);
  else return;
  event.preventDefault();
};

export const beginMarks = (doubts) => {
  fill(byId("doubts"), ...doubts.map((doubt) => make("li", {}, doubt)));
  byId("more").addEventListener("toggle", () => { state.showAll = byId("more").open; changed("choice"); });
  byId("point").addEventListener("click", () => {
    if (state.pointing?.button === byId("point")) { state.pointing.done(null); return; }
    pointAt(byId("point"), "Where is the mark?", (place) => {
      const number = Math.max(0, ...state.patches.map((patch) => patch.number)) + 1;
      const width = Math.max(8, state.width / 60);
      remember();
      state.patches.push({ number, colour: "", manner: "pointed", likely: true, frames_seen: 0, width_px: width, travel_px: 0, places: [place], at_s: state.times[state.frame] });
      state.chosen = `patch.${number}`;
      changed("choice");
      drawList();
      byId("chosen").querySelector("button")?.focus();
    });
  });
  byId("take-back").addEventListener("click", () => step(takeBack));
  byId("do-again").addEventListener("click", () => step(doAgain));
  document.addEventListener("keydown", byKeys);
  listen((what) => {
    if (what !== "frame") offerSteps();
    if (what === "marks" || what === "follows") drawList();
    if (what !== "frame" && what !== "text") drawChosen();
  });
  drawList();
  drawChosen();
};
