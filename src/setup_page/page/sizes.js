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

// What is just being typed is left alone.
const refill = (typing) => document.querySelectorAll("[data-field]").forEach((input) => {
  if (!(typing && input === document.activeElement) && input.value !== textOf(input.dataset.field)) input.value = textOf(input.dataset.field);
});

export const beginSizes = () => {
  document.querySelectorAll("[data-field]").forEach(wire);
  listen((what) => {
    if (what === "follows") {
      document.querySelectorAll("[data-field]").forEach(showFault);
      // A fault must not hide in a part that is folded away.
      document.querySelectorAll("#sizes details").forEach((own) => { own.open ||= Boolean(own.querySelector("[aria-invalid=true]")); });
    }
    if (what === "text" || what === "marks") refill(what === "text");
  });
};
