// What follows from the draft: asked of the tool a moment after each change, and told in words.
import { byId, fill, make } from "./dom.js";
import { pause, tell } from "./server.js";
import { changed, floorName, listen, state } from "./state.js";

// Typing rests this long before the tool is asked.
const REST_MS = 250;
const AGAIN_MS = 250;
let latest = 0;

// The draft as it goes to the tool: a wheel or axle mark without a colour is none.
export const outgoing = () => {
  const marked = (part) => (part?.texts.colour ? part : null);
  const further = state.draft.more_wheel_marks.filter(marked);
  return { ...state.draft, wheel_mark: marked(state.draft.wheel_mark), more_wheel_marks: further, axle_mark: marked(state.draft.axle_mark) };
};

const askAfter = async (ms) => {
  latest += 1;
  const own = latest;
  await pause(ms);
  while (own === latest && !state.over) {
    const said = await tell("/follows", { draft: outgoing(), frame: state.frame });
    if (own !== latest || state.over) return;
    if (!said.ok) { tellTrouble(said); return; }
    if (said.state === "waiting") {
      const { done, expected } = said.progress;
      fill(byId("next"), `Following these marks through the clip: frame ${done}${expected ? ` of ${expected}` : ""}`);
      await pause(AGAIN_MS);
    } else {
      state.follows = said;
      changed("follows");
      return;
    }
  }
};

export const tellTrouble = (said) => {
  fill(byId("trouble"), make("p", {}, make("b", {}, said.says)), said.hint && make("p", {}, said.hint));
  byId("trouble").hidden = false;
};

// The field that a missing thing is about.
const go = (field) => {
  const typed = [...document.querySelectorAll(`[data-field="${field}"]`)].find((own) => own.closest(".fields"));
  const target = field.startsWith("aim.") ? byId("aim") : typed ?? byId(field) ?? byId("marks");
  target.scrollIntoView({ block: "center" });
  (target === typed ? typed : target.querySelector("select, input, button"))?.focus({ preventScroll: true });
};

const lack = (missing) => make("li", {}, make("button", { type: "button", class: "link", onclick: () => go(missing.field) }, missing.does),
  make("span", { class: "fine" }, ` ${missing.needed ? "Needed for" : "Shows"} ${missing.gives}.`));

const words = ({ state: stands, told, preview }) => {
  if (stands === "failed") return [make("p", { class: "notice" }, make("b", {}, `${told.says}. `), told.hint)];
  if (!preview) return [make("p", {}, "Say which patch is the sticker. Then gripline follows it.")];
  const { car } = preview;
  const { letters } = state.kit;
  const further = car.more_wheel_frames.map((count, row) => ["wheel mark", `${letters.wheel_mark}${row + 2}`, count]);
  const seen = [["sticker", letters.sticker, car.sticker_frames], ["wheel mark", letters.wheel_mark, car.wheel_frames], ...further, ["axle mark", letters.axle_mark, car.axle_frames]]
    .filter(([name, , count]) => count > 0 || name === "sticker").map(([name, letter, count]) => `${name} ${letter} in ${count === car.frames ? "all" : count}`).join(", ");
  const odd = preview.floor.filter((mark) => mark.odd);
  return [
    make("p", {}, `Seen in the ${car.frames} frames of the clip: ${seen}.`),
    make("p", {}, preview.view, preview.grid_step_mm ? ` The lines on the floor are ${preview.grid_step_mm} mm apart. A cross is where your numbers put a mark.` : ""),
    odd.length > 0 && make("p", { class: "notice" }, `${odd.map((mark) => floorName(mark.row)).join(", ")}: further off than a tape measure explains. Measure again, or check that it is the right mark. One wrong mark shifts the others too.`),
    preview.wheel && make("p", {}, preview.wheel),
    preview.lines.some((line) => line.kind === "rim") && make("p", { class: "fine" }, "The rings in the picture show where your sizes put the rim of the wheel and the path of its mark. If a ring does not fit, a size is wrong."),
    ...preview.notes.map((note) => make("p", { class: "fine" }, `Note: ${note}.`)),
  ].filter(Boolean);
};

const show = () => {
  const { follows } = state;
  fill(byId("follows-words"), ...words(follows));
  fill(byId("lacks"), ...follows.missing.map(lack));
  byId("lacks-title").hidden = follows.missing.length === 0;
  const others = follows.faults.filter((fault) => ![...document.querySelectorAll("[data-field]")].some((own) => own.dataset.field === fault.field));
  if (others.length > 0) tellTrouble({ says: others[0].says, hint: others[0].hint });
  else byId("trouble").hidden = true;
  const [first] = follows.missing;
  const next = follows.faults.length > 0 ? `Next: correct the marked fields (${follows.faults.length}).`
    : follows.state === "failed" ? `Next: ${follows.told.hint}.`
      : first ? `Next: ${first.does}` : "Nothing is missing: save and measure.";
  fill(byId("next"), next);
};

export const beginFollows = () => {
  listen((what) => {
    if (what === "follows") show();
    if (what === "marks" || what === "text") askAfter(REST_MS);
    if (what === "frame" && state.follows?.preview) askAfter(60);
  });
  askAfter(0);
};
