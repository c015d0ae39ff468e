// How large the picture is: as the marks need it, or as someone chose.
import { byId } from "./dom.js";
import { LEAST_TAP_PX } from "./spread.js";
import { listen, marks, patchOf, placeOf, state } from "./state.js";

// A window that is narrower than this is zoomed further, and shows the marks alone, up to the third factor.
const NARROW_PX = 500;
const MOST_ZOOM = { narrow: 5, wide: 1 };
const MOST_FIT = 2.5;
const FILL = 0.85;

let zoom = 1;

const isNarrow = () => byId("window").clientWidth < NARROW_PX;
const mostZoom = () => (isNarrow() ? MOST_ZOOM.narrow : MOST_ZOOM.wide);
// How far apart two marks are on the screen, px of the clip, when the zoom is the largest.
const leastApart = () => LEAST_TAP_PX * state.width / (byId("window").clientWidth * mostZoom());

// The two places of some that are nearest to each other: how far along the axis that parts them, and their middle. What
// is nearer than `least` does not count: one of the two hides the other, and another frame shows them apart.
const nearest = (places, least = 0) => {
  let best = null;
  places.forEach((a, index) => places.slice(index + 1).forEach((b) => {
    const apart = Math.max(Math.abs(a[0] - b[0]), Math.abs(a[1] - b[1]));
    if (apart >= least && (!best || apart < best.apart)) best = { apart, middle: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] };
  }));
  return best;
};

// The first frame in which no mark hides another, else the one in which they are farthest apart.
export const firstFrame = () => {
  const patches = marks().map(patchOf).filter(Boolean);
  const least = leastApart();
  let best = { apart: -1, frame: 0 };
  for (let frame = 0; frame < state.times.length && best.apart < least; frame += 1) {
    const places = patches.map((patch) => placeOf(patch, frame)).filter(Boolean);
    const apart = places.length < patches.length ? 0 : nearest(places)?.apart ?? Infinity;
    if (apart > best.apart) best = { apart, frame };
  }
  return best.frame;
};

const span = (places, axis) => {
  const all = places.map((place) => place[axis]);
  return { middle: (Math.min(...all) + Math.max(...all)) / 2, wide: Math.max(1, Math.max(...all) - Math.min(...all)) };
};

// The zoom with which every mark can be tapped by itself, and what should then be in the middle of the window.
const needed = (places) => {
  const view = byId("window");
  const unit = view.clientWidth / state.width;
  const close = nearest(places, leastApart());
  if (!close) return { zoom: 1, middle: null };
  const apart = LEAST_TAP_PX / (close.apart * unit);
  const [u, v] = [span(places, 0), span(places, 1)];
  const fit = isNarrow() ? Math.min(MOST_FIT, FILL * view.clientWidth / (u.wide * unit)) : 1;
  const wanted = Math.min(mostZoom(), Math.max(1, apart, fit));
  const whole = u.wide * unit * wanted < view.clientWidth;
  return { zoom: wanted, middle: whole ? [u.middle, v.middle] : close.middle };
};

// Sets the zoom, with a place of the clip in the middle of the window, else what was there.
const setZoom = (wanted, place) => {
  const view = byId("window");
  const middle = place
    ? [(place[0] + 0.5) / state.width, (place[1] + 0.5) / state.height]
    : [(view.scrollLeft + view.clientWidth / 2) / view.scrollWidth, (view.scrollTop + view.clientHeight / 2) / view.scrollHeight];
  zoom = wanted;
  byId("canvas").style.width = `${100 * zoom}%`;
  view.scrollTo({ left: middle[0] * view.scrollWidth - view.clientWidth / 2, top: middle[1] * view.scrollHeight - view.clientHeight / 2, behavior: "instant" });
};

// `items` are what can be tapped in the frame that is shown.
export const beginZoom = (items) => {
  const size = byId("size");
  let width = 0;
  const asNeeded = (anew) => {
    if (size.value !== "marks" || width === 0) return;
    const wanted = needed(items().map((item) => item.place));
    // A car that drives by brings marks together: the picture grows for that, and does not shrink again on the way.
    if (anew || wanted.zoom > 1.02 * zoom) setZoom(wanted.zoom, wanted.middle);
  };
  size.addEventListener("change", () => (size.value === "marks" ? asNeeded(true) : setZoom(Number(size.value), null)));
  new ResizeObserver(() => {
    const { clientWidth } = byId("window");
    if (Math.abs(clientWidth - width) < 2) return;
    width = clientWidth;
    asNeeded(true);
  }).observe(byId("window"));
  listen((what) => { if (what === "frame" || what === "marks" || what === "follows") asNeeded(false); });
};
