// The floor marks' places, and how each fits.
import { byId, fill, make } from "./dom.js";
import { shape, swatch } from "./shapes.js";
import { showAim } from "./aim.js";
import { fieldBox } from "./sizes.js";
import { remember } from "./history.js";
import { addFloorMark, changed, floorMarks, listen, nameOf, state, takeOut } from "./state.js";

const row = (mark) => {
  const { key, part, row: index } = mark;
  const name = nameOf(mark);
  return make("li", {},
    make("button", { type: "button", class: "badge", "aria-label": `Show ${name} in the picture`, onclick: () => { state.chosen = key; changed("choice"); byId("window").scrollIntoView({ block: "nearest" }); } },
      shape("floor_mark"), make("b", {}, name)),
    make("span", { class: "asked" }, swatch(part.texts.colour), fieldBox("x", `floor_mark.${index}.x_mm`), fieldBox("y", `floor_mark.${index}.y_mm`),
      make("button", { type: "button", "aria-label": `Remove floor mark ${name}`, onclick: () => takeOut(mark) }, "\u00d7")),
    make("span", { class: "fit", id: `fit-${index}` }));
};

const drawRows = () => {
  const focused = document.activeElement?.closest?.("#floor-rows") ? document.activeElement.dataset.field : null;
  fill(byId("floor-rows"), ...floorMarks().map(row));
  if (focused) byId("floor-rows").querySelector(`[data-field="${focused}"]`)?.focus();
  drawFits();
};

const drawFits = () => floorMarks().forEach((mark) => {
  const box = byId(`fit-${mark.row}`);
  if (!box) return;
  const seen = state.follows?.preview?.floor.find((own) => own.row === mark.row);
  const words = seen?.says ?? (mark.part.texts.x_mm && mark.part.texts.y_mm ? "" : "type x and y");
  box.classList.toggle("odd", Boolean(seen?.odd));
  fill(box, words && `${seen?.odd ? "\u26a0 " : ""}${words}`);
});

export const beginFloor = () => {
  byId("kit-plan").addEventListener("click", () => {
    const { colour, places_mm: places, aim_mm: [from, to] } = state.kit;
    remember();
    state.draft.floor_marks = places.map(([x, y], index) => ({ texts: { colour, x_mm: String(x), y_mm: String(y) }, at: null, from: null, number: index + 1 }));
    state.draft.aim.texts = { from_x_mm: String(from[0]), from_y_mm: String(from[1]), to_x_mm: String(to[0]), to_y_mm: String(to[1]) };
    showAim();
    changed("marks");
  });
  byId("add-floor").addEventListener("click", () => {
    const colour = state.draft.floor_marks.at(-1)?.texts.colour || state.kit.colour;
    remember();
    addFloorMark(colour, null);
    changed("marks");
    byId("floor-rows").lastElementChild.querySelector("input").focus();
  });
  listen((what) => {
    if (what === "marks") drawRows();
    if (what === "follows") drawFits();
  });
  drawRows();
};
