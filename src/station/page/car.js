// The car's form: sizes typed once, faults beside their fields.
import { byId, fill, make } from "./dom.js";
import { sentence } from "./runs.js";
import { tell } from "./server.js";

const FIELDS = [
  ["car.name", "Name of the car", "text", ""],
  ["car.wheel_diameter_mm", "Driven wheel, outside, with its strip on", "decimal", "mm"],
  ["car.axle_diameter_mm", "Bare axle where the string is wound", "decimal", "mm"],
  ["car.string_mm", "String that is wound on it", "decimal", "mm"],
  ["car.mass_g", "Whole car, ready to run", "decimal", "g"],
  ["sticker.height_mm", "Sticker: middle above the floor", "decimal", "mm"],
  ["sticker.ahead_mm", "Sticker: ahead of the driven axle", "decimal", "mm"],
  ["sticker.off_centre_mm", "Sticker: from the car's middle towards the camera", "decimal", "mm"],
  ["wheel_mark.radius_mm", "Wheel mark: from the wheel's middle to the mark's", "decimal", "mm"],
];
const NEEDED = "car.name";

const id = (field) => `field-${field.replace(".", "-")}`;

const draftOf = () => {
  const draft = { car: { texts: {} }, sticker: { texts: {} }, wheel_mark: { texts: {} } };
  for (const [field] of FIELDS) {
    const [table, key] = field.split(".");
    const typed = byId(id(field)).value.trim().replace(",", ".");
    if (typed !== "") draft[table].texts[key] = field === NEEDED ? byId(id(field)).value.trim() : typed;
  }
  draft.car.texts.facing_side = byId("field-facing").value;
  return draft;
};

const show = (draft) => {
  for (const [field] of FIELDS) {
    const [table, key] = field.split(".");
    byId(id(field)).value = draft?.[table]?.texts?.[key] ?? "";
  }
  byId("field-facing").value = draft?.car?.texts?.facing_side ?? "right";
};

const faults = (all) => {
  for (const [field] of FIELDS) {
    const fault = all.find((one) => one.field === field);
    byId(`${id(field)}-fault`).textContent = fault ? `${sentence(fault.says)} ${sentence(fault.hint)}` : "";
    byId(id(field)).setAttribute("aria-invalid", fault ? "true" : "false");
  }
  const rest = all.filter((one) => !FIELDS.some(([field]) => field === one.field));
  byId("car-fault").textContent = rest.map((one) => `${sentence(one.says)} ${sentence(one.hint)}`).join(" ");
  const first = all.map((one) => one.field).find((field) => FIELDS.some(([own]) => own === field));
  if (first) byId(id(first)).focus();
};

export const openCar = (draft) => {
  show(draft);
  faults([]);
  byId("car-form").hidden = false;
  byId(id(NEEDED)).focus();
};

export const startCar = (saved) => {
  fill(byId("car-fields"), ...FIELDS.map(([field, words, mode, unit]) => make("label", { class: "field" },
    make("span", {}, words),
    make("span", { class: "typed" },
      make("input", { id: id(field), inputMode: mode, autocomplete: "off", maxLength: 40 }),
      unit ? make("span", { class: "unit" }, unit) : null),
    make("span", { id: `${id(field)}-fault`, class: "fault", role: "alert" }))));
  byId("car-cancel").addEventListener("click", () => { byId("car-form").hidden = true; });
  byId("car-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const answer = await tell("/cars", draftOf());
    if (answer.ok) {
      byId("car-form").hidden = true;
      saved(answer.car);
    } else if (answer.faults) faults(answer.faults);
    else byId("car-fault").textContent = `${sentence(answer.says)} ${sentence(answer.hint)}`;
  });
};
