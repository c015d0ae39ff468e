// The second phone's clip: which patch is the sticker that faces it, and where that was followed.
import { byId, choice, fill, make } from "./dom.js";
import { outgoing } from "./follows.js";
import { ask, pause, tell } from "./server.js";
import { patchWords, shape, swatch } from "./shapes.js";
import { remember } from "./history.js";
import { changed, listen, placeOf, state, textOf } from "./state.js";

const COLOUR = "end_view.colour";
const REST_MS = 300;
const AGAIN_MS = 250;
// The clip: its patches, its size, the frame that is shown, and what was followed in it.
const end = { patches: [], times: [], width: 1, height: 1, frame: 0, seen: null };
let latest = 0;

const say = (...words) => fill(byId("end-told"), ...words);

const placed = (element, [u, v]) => {
  element.style.left = `${(u + 0.5) / end.width * 100}%`;
  element.style.top = `${(v + 0.5) / end.height * 100}%`;
  return element;
};

// The sticker's pin stands where the tool followed it, the others where the first look saw them.
const drawPins = () => {
  const sticker = end.seen?.sticker[end.frame];
  const others = end.patches.filter((patch) => patch.likely).map((patch) => ({ patch, place: placeOf(patch, end.frame) }))
    .filter(({ place }) => place && !(sticker && Math.hypot(place[0] - sticker[0], place[1] - sticker[1]) < 6))
    .map(({ patch, place }) => placed(make("button", {
      type: "button", class: "pin other", "aria-label": `patch ${patch.number}, ${patch.colour}: take it for the sticker`, onclick: () => choose(patch.colour),
    }, shape(""), make("span", { class: "number" }, String(patch.number))), place));
  const own = sticker && placed(make("span", { class: "pin sticker", role: "img", "aria-label": `sticker ${state.kit.letters.end_view}` },
    shape("sticker"), make("span", { class: "number" }, state.kit.letters.end_view)), sticker);
  fill(byId("end-pins"), ...others, own);
};

const goTo = (frame) => {
  end.frame = Math.min(Math.max(frame, 0), end.times.length - 1);
  byId("end-slider").value = String(end.frame);
  byId("end-slider").setAttribute("aria-valuetext", `frame ${end.frame} of ${end.times.length - 1}, ${end.times[end.frame].toFixed(2)} seconds`);
  byId("end-frame").src = `/end/frames/${end.frame}`;
  byId("end-frame").alt = `Frame ${end.frame} of the second clip, at ${end.times[end.frame].toFixed(2)} seconds`;
  drawPins();
};

const choose = (colour) => {
  remember();
  state.draft.end_view.texts.colour = colour;
  changed("marks");
};

const drawList = () => {
  const chosen = textOf(COLOUR);
  const row = (patch) => make("li", {},
    make("button", { type: "button", class: "badge", "aria-label": `Show patch ${patch.number}`, onclick: () => goTo(Math.max(0, patch.places.findIndex(Boolean))) }, shape(""), make("b", {}, String(patch.number))),
    make("span", { class: "patch-words asked" }, swatch(patch.colour), make("b", {}, patch.colour), make("span", {}, patchWords(patch, end.times.length))),
    make("span", { class: "roles" }, make("button", {
      type: "button", class: "role", "aria-pressed": String(chosen === patch.colour), onclick: () => choose(patch.colour),
    }, shape("sticker"), `sticker ${state.kit.letters.end_view}`)));
  fill(byId("end-patches"), ...end.patches.filter((patch) => patch.likely).map(row));
};

// The colour can be said without a clip too.
const drawColour = () => {
  const options = [["", "as on the side"], ...state.colours.map((colour) => [colour, colour])];
  fill(byId("end-colour"), choice(options, textOf(COLOUR), "Colour of the sticker that faces the second phone", choose));
};

const words = ({ seen }) => {
  const count = seen.sticker.filter(Boolean).length;
  return [make("p", {}, `Sticker ${state.kit.letters.end_view} was seen in ${count === seen.frames ? "all" : count} of ${seen.frames} frames of the second clip.`), make("p", {}, seen.view)];
};

const askAfter = async (ms) => {
  latest += 1;
  const own = latest;
  await pause(ms);
  while (own === latest && !state.over) {
    const said = await tell("/end/follows", { draft: outgoing() });
    if (own !== latest || state.over) return;
    end.seen = said.state === "ready" ? said.seen : null;
    if (said.state === "waiting") {
      say(make("p", {}, `Following the sticker through the second clip: frame ${said.progress.done}`));
      await pause(AGAIN_MS);
      continue;
    }
    if (said.state === "ready") say(...words(said));
    else if (said.state === "failed") say(make("p", { class: "notice" }, make("b", {}, `${said.told.says}. `), said.told.hint));
    else if (!said.ok) say(make("p", { class: "notice" }, make("b", {}, `${said.says}. `), said.hint));
    else say(make("p", {}, "Say first which patch of the first clip is the sticker."));
    drawPins();
    return;
  }
};

const watch = () => {
  byId("end-slider").max = String(end.times.length - 1);
  byId("end-slider").addEventListener("input", () => goTo(Number(byId("end-slider").value)));
  byId("end-canvas").style.aspectRatio = `${end.width} / ${end.height}`;
  byId("end-clip").hidden = false;
  listen((what) => {
    if (what === "marks" || what === "text") askAfter(REST_MS);
    if (what === "marks") drawList();
  });
  drawList();
  const first = end.patches.find((patch) => patch.colour === textOf(COLOUR)) ?? end.patches[0];
  const seen = first?.places.map((place, frame) => (place ? frame : -1)).filter((frame) => frame >= 0) ?? [];
  goTo(seen[Math.floor(seen.length / 2)] ?? 0);
  askAfter(0);
};

export const beginEndView = async (standing) => {
  drawColour();
  listen((what) => { if (what === "marks") drawColour(); });
  byId("end-none").hidden = Boolean(standing.end);
  byId("end-more").open = Boolean(standing.end) || Object.values(state.draft.end_view.texts).some(Boolean);
  if (!standing.end) return;
  fill(byId("end-name"), standing.end.clip);
  const found = await ask("/end/patches");
  if (!found.ok) { say(make("p", { class: "notice" }, make("b", {}, `${found.says}. `), found.hint)); return; }
  Object.assign(end, { patches: found.patches, times: found.times_s, width: found.width_px, height: found.height_px });
  watch();
};
