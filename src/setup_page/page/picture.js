// The clip: a frame, a slider through it, and pins on the marks that can be chosen, dragged and moved by
// the arrow keys.
import { byId, fill, make } from "./dom.js";
import { shape } from "./shapes.js";
import { spread } from "./spread.js";
import { beginZoom } from "./zoom.js";
import { changed, listen, markOf, marks, moveTo, nameOf, pinOf, placeOf, state } from "./state.js";

const pins = new Map();
let loading = false;
let wanted = 0;

// Asks for the frame that was wanted last, one at a time.
const load = () => {
  if (loading) return;
  const number = wanted;
  loading = true;
  const img = byId("frame");
  const settled = () => { loading = false; if (wanted !== number) load(); };
  img.onload = () => { byId("frame-trouble").hidden = true; settled(); };
  img.onerror = async () => {
    const response = await fetch(`/frames/${number}`).catch(() => null);
    const told = await response?.json().catch(() => null);
    const words = told?.says ? `${told.says}: ${told.hint}` : "This frame cannot be shown: gripline does not answer.";
    if (!response?.ok) fill(byId("frame-trouble"), words);
    byId("frame-trouble").hidden = Boolean(response?.ok);
    settled();
  };
  img.src = `/frames/${number}`;
  img.alt = `Frame ${number} of the clip, at ${state.times[number].toFixed(2)} seconds`;
};

export const goTo = (frame) => {
  state.frame = Math.min(Math.max(frame, 0), state.times.length - 1);
  wanted = state.frame;
  load();
  changed("frame");
};

// A place in the clip's pixels under a point of the screen.
const placeAt = (event) => {
  const box = byId("canvas").getBoundingClientRect();
  return [(event.clientX - box.left) / box.width * state.width - 0.5, (event.clientY - box.top) / box.height * state.height - 0.5];
};

const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

// A drag begins when the pointer has gone this far; less is a choice.
const DRAG_PX = 4;

const draggable = (button, item) => {
  let from = null;
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    from = { x: event.clientX, y: event.clientY, moved: false };
    button.setPointerCapture(event.pointerId);
  });
  button.addEventListener("pointermove", (event) => {
    const { move } = item();
    if (!from || !move) return;
    from.moved ||= Math.hypot(event.clientX - from.x, event.clientY - from.y) > DRAG_PX;
    if (from.moved) put(button, placeAt(event));
  });
  button.addEventListener("pointerup", (event) => {
    const { move } = item();
    if (from?.moved && move) {
      button.dataset.dragged = "yes";
      move(placeAt(event));
    }
    from = null;
  });
  button.addEventListener("pointercancel", () => { from = null; drawPins(); });
};

const put = (button, [u, v]) => {
  button.style.left = `${(u + 0.5) / state.width * 100}%`;
  button.style.top = `${(v + 0.5) / state.height * 100}%`;
};

// Everything that has a pin in this frame: marks where they are, and patches that are no marks.
const items = () => {
  const own = marks().map((mark) => ({
    key: mark.key, role: mark.role, label: nameOf(mark),
    words: `${mark.role.replace("_", " ")} ${nameOf(mark)}`,
    place: pinOf(mark), move: (place, byKeys) => moveTo(mark, place, byKeys),
  }));
  const others = state.patches.filter((patch) => (patch.likely || state.showAll) && !markOf(patch)).map((patch) => ({
    key: `patch.${patch.number}`, role: "", label: String(patch.number),
    words: `patch ${patch.number}, ${patch.colour || "no colour"}`, place: placeOf(patch), move: null, likely: patch.likely,
  }));
  const cross = state.pointing ? [{
    key: "pointing", role: "", label: "", words: "cross-hair: arrow keys move it, Enter sets it",
    place: state.pointing.place, move: (place) => { state.pointing.place = place; drawPins(); }, set: true,
  }] : [];
  return [...own, ...others, ...cross].filter((item) => item.place);
};

const pinFor = (item) => {
  const known = pins.get(item.key);
  if (known) return known;
  const pin = { item };
  pin.button = make("button", { type: "button", class: "pin" });
  pin.button.addEventListener("click", () => {
    if (pin.button.dataset.dragged) { delete pin.button.dataset.dragged; return; }
    if (pin.item.set || state.pointing?.onMarks) state.pointing.done(pin.item.place);
    else { state.chosen = pin.item.key; changed("choice"); }
  });
  pin.button.addEventListener("keydown", (event) => {
    const step = STEPS[event.key];
    if (step && pin.item.move) {
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1;
      pin.item.move(pin.item.place.map((px, axis) => px + far * step[axis]), true);
    }
    if (event.key === "Escape" && pin.item.set) state.pointing.done(null);
  });
  draggable(pin.button, () => pin.item);
  pins.set(item.key, pin);
  byId("pins").append(pin.button);
  return pin;
};

export const drawPins = () => {
  const now = items();
  const keys = new Set(now.map((item) => item.key));
  for (const [key, pin] of pins) {
    if (!keys.has(key)) { pin.button.remove(); pins.delete(key); }
  }
  for (const item of now) {
    const pin = pinFor(item);
    const { button } = pin;
    const look = `${item.role}|${item.label}|${state.chosen === item.key}`;
    pin.item = item;
    put(button, item.place);
    button.setAttribute("aria-label", `${item.words}${item.move && !item.set ? "; arrow keys move it" : ""}`);
    if (pin.look !== look) {
      pin.look = look;
      button.className = `pin ${item.role || "other"}${state.chosen === item.key ? " chosen-pin" : ""}${item.set ? " cross" : ""}`;
      fill(button, shape(item.role), item.label && make("span", { class: "number" }, item.label));
    }
  }
  spread(shownPins());
};

// Pins with their places on the canvas, px of the screen.
const shownPins = () => {
  const { clientWidth, clientHeight } = byId("canvas");
  return [...pins.values()].filter(({ item }) => !item.set).map((pin) => ({
    pin, x: (pin.item.place[0] + 0.5) / state.width * clientWidth, y: (pin.item.place[1] + 0.5) / state.height * clientHeight,
  }));
};

// Lines that the tool's own camera puts over the picture.
const drawLines = () => {
  const svg = byId("drawn");
  svg.setAttribute("viewBox", `-0.5 -0.5 ${state.width} ${state.height}`);
  const preview = state.follows?.preview;
  if (!preview) { fill(svg); return; }
  const floor = byId("show-floor").checked;
  const lines = preview.lines.filter((line) => floor || !["floor", "aim"].includes(line.kind))
    .map((line) => ["under", "upper"].map((layer) => make("polyline", { class: `${line.kind} ${layer}`, points: line.points.map((p) => p.join(",")).join(" ") })));
  const crosses = preview.floor.filter((seen) => floor && seen.expected_px).map((seen) => {
    const [u, v] = seen.expected_px;
    const arm = state.width / 160;
    const d = `M${u - arm} ${v}H${u + arm}M${u} ${v - arm}V${v + arm}`;
    return ["under", "upper"].map((layer) => make("path", { class: `expected ${layer}`, d }));
  });
  fill(svg, ...lines.flat(), ...crosses.flat());
};

const step = (by) => goTo(state.frame + by);

// Pointing: a click in the picture, or a cross-hair that the arrow keys move. `words` say what to point at; without a
// place the button that asked has the focus again. `onMarks`: a mark may be pointed at too.
export const pointAt = (button, words, then, onMarks = false) => {
  state.pointing?.done(null);
  const done = (place) => {
    state.pointing = null;
    byId("canvas").classList.remove("pointing");
    button.setAttribute("aria-pressed", "false");
    byId("prompt").hidden = true;
    drawPins();
    if (place) then(place);
    else button.focus();
  };
  const view = byId("window");
  const canvas = byId("canvas").getBoundingClientRect();
  const middle = [(view.scrollLeft + view.clientWidth / 2) / canvas.width * state.width, (view.scrollTop + view.clientHeight / 2) / canvas.height * state.height];
  state.pointing = { place: middle, done, button, onMarks };
  byId("canvas").classList.add("pointing");
  button.setAttribute("aria-pressed", "true");
  fill(byId("prompt"), `${words} Click in the picture, or move the cross-hair by arrow keys and press Enter. Escape leaves it.`);
  byId("prompt").hidden = false;
  drawPins();
  pins.get("pointing").button.focus({ preventScroll: true });
};

export const beginPicture = () => {
  const slider = byId("slider");
  slider.max = String(state.times.length - 1);
  slider.addEventListener("input", () => goTo(Number(slider.value)));
  byId("back").addEventListener("click", () => step(-1));
  byId("ahead").addEventListener("click", () => step(1));
  beginZoom(() => items().filter((item) => !item.set && (item.role || item.likely)));
  byId("show-floor").addEventListener("change", drawLines);
  byId("canvas").addEventListener("click", (event) => {
    if (state.pointing && !event.target.closest(".pin:not(.cross)")) state.pointing.done(placeAt(event));
  });
  byId("canvas").style.aspectRatio = `${state.width} / ${state.height}`;
  new ResizeObserver(() => spread(shownPins())).observe(byId("canvas"));
  listen((what) => {
    if (what === "frame") {
      slider.value = String(state.frame);
      slider.setAttribute("aria-valuetext", `frame ${state.frame} of ${state.times.length - 1}, ${state.times[state.frame].toFixed(2)} seconds`);
      fill(byId("where"), `Frame ${state.frame} of ${state.times.length - 1}, ${state.times[state.frame].toFixed(2)} s`);
    }
    drawPins();
    if (what === "follows") drawLines();
  });
};
