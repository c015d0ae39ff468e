// Boxes that numbers and words are typed into, each with its fault beside it.
import { byId, fill, make } from "./dom.js";
import { listen, setText, state, textOf } from "./state.js";

const faultFor = (input) => {
  const id = `fault-${input.dataset.field.replaceAll(".", "-")}-${input.dataset.twin ?? ""}`;
  input.setAttribute("aria-describedby", id);
  return make("span", { class: "fault", id });
};

const wire = (input) => {
  const { field } = input.dataset;
  input.value = textOf(field);
  input.addEventListener("input", () => setText(field, input.value));
  for (const [event, on] of [["focus", true], ["blur", false]]) {
    input.addEventListener(event, () => document.querySelectorAll(`[data-size="${field}"]`).forEach((size) => size.classList.toggle("lit", on)));
  }
  input.autocomplete = "off";
  input.parentElement.append(faultFor(input));
};

let twins = 0;

// A small box for one number of a list that is made anew.
export const fieldBox = (words, field) => {
  const input = make("input", { inputMode: "decimal", size: 7, autocomplete: "off", oninput: () => setText(field, input.value) });
  twins += 1;
  input.dataset.field = field;
  input.dataset.twin = String(twins);
  input.value = textOf(field);
  const label = make("label", { class: "small" }, make("span", {}, words), input, make("span", { class: "unit" }, "mm"));
  label.append(faultFor(input));
  showFault(input);
  return label;
};

const showFault = (input) => {
  const faults = (state.follows?.faults ?? []).filter((own) => own.field === input.dataset.field);
  const box = input.parentElement.querySelector(".fault");
  const words = faults.map((fault) => `${fault.says}; ${fault.hint}`).join(" ");
  if (box.textContent !== words) fill(box, words);
  input.setAttribute("aria-invalid", faults.length > 0 ? "true" : "false");
};

const refill = () => document.querySelectorAll("[data-field]").forEach((input) => {
  if (input !== document.activeElement && input.value !== textOf(input.dataset.field)) input.value = textOf(input.dataset.field);
});

const AIM = ["aim.from_x_mm", "aim.from_y_mm", "aim.to_x_mm", "aim.to_y_mm"];

// Along x: from the start to the farthest floor mark, or two metres.
const alongX = () => {
  const far = Math.max(0, ...state.draft.floor_marks.map((mark) => Number(mark.texts.x_mm.replace(",", "."))).filter(Number.isFinite));
  return ["0", "0", String(far >= 500 ? far : 2000), "0"];
};

const aimIsX = () => Number(textOf(AIM[1]) || "0") === 0 && Number(textOf(AIM[3]) || "0") === 0;

export const showAim = () => {
  const said = AIM.some((field) => textOf(field));
  byId("aim-x").checked = said && aimIsX();
  byId("aim-points").checked = said && !aimIsX();
  byId("aim-fields").hidden = !said || aimIsX();
};

export const beginSizes = () => {
  document.querySelectorAll("[data-field]").forEach(wire);
  byId("aim-x").addEventListener("change", () => {
    alongX().forEach((text, index) => setText(AIM[index], text));
    byId("aim-fields").hidden = true;
    refill();
  });
  byId("aim-points").addEventListener("change", () => { byId("aim-fields").hidden = false; });
  showAim();
  listen((what) => {
    if (what === "follows") {
      document.querySelectorAll("[data-field]").forEach(showFault);
      // A fault must not hide in a part that is folded away.
      document.querySelectorAll("#sizes details").forEach((own) => { own.open ||= Boolean(own.querySelector("[aria-invalid=true]")); });
    }
    if (what === "text" || what === "marks") refill();
  });
};
