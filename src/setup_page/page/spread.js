// How large the rings about the marks are, and where their numbers stand.
import { byId } from "./dom.js";

// Rings are drawn as large as this where there is room, and no smaller than the other, px of the screen.
const RING_PX = 28;
const LEAST_RING_PX = 9;
// What is tapped is no smaller than the first (WCAG 2.2, success criterion 2.5.8).
export const LEAST_TAP_PX = 24;
const MOST_TAP_PX = 36;
const NUMBER_HEIGHT_PX = 16;
const LETTER_PX = 8.5;

const overlap = (a, b) => a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;

// Boxes about a ring's middle in which its number can stand, the nicest first.
const placesFor = (ring, width, height) => {
  const [side, over] = [ring / 2 + 1, ring / 2];
  const beside = [-over - height / 2, -height / 2, over - height / 2].flatMap((y) => [{ x: side, y }, { x: -side - width, y }]);
  const above = [{ x: -width / 2, y: -over - height - 1 }, { x: -width / 2, y: over + 1 }];
  const far = [side + 22, -side - width - 22].flatMap((x) => [-over - height, over].map((y) => ({ x, y })));
  const round = Array.from({ length: 16 }, (_, step) => step * Math.PI / 8)
    .map((angle) => ({ x: (over + 30) * Math.cos(angle) - width / 2, y: (over + 30) * Math.sin(angle) - height / 2 }));
  return [...beside, ...above, ...far, ...round].map((place) => ({ ...place, width, height }));
};

// Rings and the places to tap shrink where marks lie close together on the screen, and numbers go where nothing else is.
export const spread = (own) => {
  const { clientWidth, clientHeight } = byId("canvas");
  for (const one of own) {
    const near = Math.min(...own.filter((other) => other !== one).map((other) => Math.max(Math.abs(other.x - one.x), Math.abs(other.y - one.y))));
    one.ring = Math.max(LEAST_RING_PX, Math.min(one.pin.item.role ? RING_PX : RING_PX / 2, near - 2));
    one.pin.button.style.setProperty("--ring", `${one.ring}px`);
    one.pin.button.style.setProperty("--tap", `${Math.max(LEAST_TAP_PX, Math.min(MOST_TAP_PX, near))}px`);
  }
  const taken = own.map(({ x, y, ring }) => ({ x: x - ring / 2, y: y - ring / 2, width: ring, height: ring }));
  const inside = (box) => box.x >= 0 && box.y >= 0 && box.x + box.width <= clientWidth && box.y + box.height <= clientHeight;
  for (const { pin, x, y, ring } of [...own].sort((a, b) => Number(b.pin.item.role !== "") - Number(a.pin.item.role !== ""))) {
    const number = pin.button.querySelector(".number");
    if (!number) continue;
    const places = placesFor(ring, LETTER_PX * pin.item.label.length + 8, NUMBER_HEIGHT_PX);
    const onScreen = (place) => ({ ...place, x: x + place.x, y: y + place.y });
    const free = places.find((place) => inside(onScreen(place)) && !taken.some((box) => overlap(box, onScreen(place)))) ?? places[0];
    taken.push(onScreen(free));
    number.style.left = `calc(50% + ${free.x}px)`;
    number.style.top = `calc(50% + ${free.y}px)`;
  }
};
