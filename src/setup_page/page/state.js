// What the page holds: the draft of the sheet, the patches, the frame that is shown. Whoever changes it
// calls changed(); whoever shows it listens. Before a change it calls remember(), so that it can be taken back.
import { remember } from "./history.js";

export const state = {
  draft: null, patches: [], times: [], width: 1, height: 1, frame: 0,
  chosen: null, // key of the mark or patch that was chosen
  follows: null, // the last answer about what follows
  unsaved: false, colours: [], kit: null,
  over: false, // whether gripline has stopped: nothing is asked any more
};

const listeners = [];
export const listen = (listener) => listeners.push(listener);

// `what`: "frame" (another frame), "choice", "marks" (which marks there are), "text" (typed), "follows".
export const changed = (what) => {
  if (what === "marks" || what === "text") state.unsaved = true;
  for (const listener of listeners) listener(what);
};

// Where a patch is in a frame.
export const placeOf = (patch, frame = state.frame) => (patch.places.length === 1 ? patch.places[0] : patch.places[frame] ?? null);

const part = (table) => state.draft[table];

// The draft's marks: key, role, part, and the row of a floor mark or of a further wheel mark.
export const marks = () => {
  const single = ["sticker", "wheel_mark", "axle_mark"].filter((role) => part(role)?.texts.colour)
    .map((role) => ({ key: role, role, part: part(role), row: null }));
  const further = state.draft.more_wheel_marks.map((own, row) => ({ key: `more_wheel_marks.${row}`, role: "wheel_mark", part: own, row }));
  return [...single, ...further, ...state.draft.floor_marks.map((own, row) => ({ key: `floor_mark.${row}`, role: "floor_mark", part: own, row }))];
};

const frameAt = (time) => {
  let best = 0;
  state.times.forEach((own, index) => { if (Math.abs(own - time) < Math.abs(state.times[best] - time)) best = index; });
  return best;
};

const reach = (patch) => Math.max(4, 0.7 * patch.width_px);

// The patch that a mark is: where it was pointed at, else what the tool recognised.
export const patchOf = (mark) => {
  const { at } = mark.part;
  if (at) {
    const frame = frameAt(at.at_s);
    const near = state.patches
      .map((patch) => ({ patch, place: placeOf(patch, frame) }))
      .filter(({ patch, place }) => place && Math.hypot(place[0] - at.u_px, place[1] - at.v_px) < reach(patch))
      .sort((a, b) => Math.hypot(a.place[0] - at.u_px, a.place[1] - at.v_px) - Math.hypot(b.place[0] - at.u_px, b.place[1] - at.v_px));
    return near[0]?.patch ?? null;
  }
  const roles = state.follows?.preview?.roles ?? [];
  const role = roles.find((own) => own.table === mark.role && own.row === mark.row);
  if (role) return state.patches.find((patch) => patch.number === role.patch) ?? null;
  // Until the tool has followed it: a mark that goes round, or the first mover of the sticker's colour.
  const manner = { wheel_mark: "circling", axle_mark: "circling", sticker: "moving" }[mark.role];
  return state.patches.find((patch) => patch.manner === manner && patch.colour === mark.part.texts.colour) ?? null;
};

export const markOf = (patch) => marks().find((mark) => patchOf(mark)?.number === patch.number) ?? null;

// Where a mark's pin stands in the frame that is shown.
export const pinOf = (mark) => {
  const { at } = mark.part;
  const patch = patchOf(mark);
  const still = mark.role === "floor_mark" && (!patch || patch.manner === "still" || patch.manner === "pointed");
  if (at && (still || Math.abs(state.times[state.frame] - at.at_s) < 1e-3)) return [at.u_px, at.v_px];
  return patch ? placeOf(patch) : null;
};

// Says what a patch is. One body sticker, one wheel mark, one axle mark; any number of floor marks, and of further wheel
// marks ("more_wheel_marks"), which must differ in colour.
export const setRole = (patch, role, colour = patch.colour) => {
  remember();
  const before = markOf(patch);
  if (before) clear(before);
  if (role) {
    const frame = placeOf(patch) ? state.frame : Math.max(0, patch.places.findIndex(Boolean));
    const [u_px, v_px] = placeOf(patch, frame);
    const at = { u_px, v_px, at_s: patch.at_s ?? state.times[frame] };
    const own = colour || { sticker: "magenta", wheel_mark: "green", axle_mark: "orange", floor_mark: state.kit.colour, more_wheel_marks: "yellow" }[role];
    if (role === "floor_mark") addFloorMark(own, at);
    else if (role === "more_wheel_marks" && state.draft.wheel_mark) state.draft.more_wheel_marks.push({ texts: { colour: own }, at, from: null });
    else if (role === "more_wheel_marks") state.draft.wheel_mark = { texts: { colour: own }, at, from: null };
    else {
      state.draft[role] = { ...(state.draft[role] ?? { from: null }), texts: { ...(state.draft[role]?.texts ?? {}), colour: own }, at };
    }
  }
  changed("marks");
};

// A floor mark without numbers, called by the next number that none has.
export const addFloorMark = (colour, at) => {
  const marks = state.draft.floor_marks;
  const number = 1 + Math.max(0, ...marks.map((mark, row) => mark.number ?? row + 1));
  marks.push({ texts: { colour, x_mm: "", y_mm: "" }, at, from: null, number });
};

const clear = (mark) => {
  const lists = { floor_mark: state.draft.floor_marks, wheel_mark: state.draft.more_wheel_marks };
  if (mark.row !== null) lists[mark.role].splice(mark.row, 1);
  else if (mark.role === "sticker") Object.assign(mark.part, { at: null, texts: { ...mark.part.texts, colour: "" } });
  else if (mark.role === "wheel_mark") state.draft.wheel_mark = state.draft.more_wheel_marks.shift() ?? null;
  else state.draft[mark.role] = null;
};

export const takeOut = (mark) => { remember(); clear(mark); changed("marks"); };

export const setColour = (mark, colour) => { remember(); mark.part.texts.colour = colour; changed("marks"); };

// Moves a mark's pin to a place in the picture.
export const moveTo = (mark, [u, v], byKeys = false) => {
  remember(byKeys ? `moves ${mark.key}` : null);
  const keep = (value, most) => Math.min(Math.max(value, 0), most - 1);
  mark.part.at = { u_px: keep(u, state.width), v_px: keep(v, state.height), at_s: state.times[state.frame] };
  changed("marks");
};

// What a mark or a patch is called: floor marks F1, F2, ... and the car's marks A, B, C, as on the printed kit, further
// wheel marks B2, B3, ...; what is no mark by its number.
export const nameOf = (mark, patch) => {
  if (mark?.role === "floor_mark") return `F${numberOf(mark.part, mark.row)}`;
  return mark ? `${state.kit.letters[mark.role]}${mark.row === null ? "" : mark.row + 2}` : String(patch.number);
};

const numberOf = (part, row) => part.number ?? row + 1;

export const floorName = (row) => `F${numberOf(state.draft.floor_marks[row], row)}`;

// Floor marks in the order of their numbers.
export const floorMarks = () => marks().filter((mark) => mark.role === "floor_mark").sort((a, b) => numberOf(a.part, a.row) - numberOf(b.part, b.row));

// Typed texts by the names that the tool uses for fields, such as car.mass_g or floor_mark.2.x_mm.
const partOf = (field, forWriting) => {
  const names = field.split(".");
  const list = { floor_mark: "floor_marks", more_wheel_marks: "more_wheel_marks" }[names[0]];
  if (list) return state.draft[list][Number(names[1])];
  if (!state.draft[names[0]] && forWriting) state.draft[names[0]] = { texts: {}, at: null, from: null };
  return state.draft[names[0]];
};

export const textOf = (field) => partOf(field, false)?.texts[field.split(".").at(-1)] ?? "";

export const setText = (field, text) => {
  remember(`types ${field}`);
  const own = partOf(field, true);
  if (own) own.texts[field.split(".").at(-1)] = text;
  changed("text");
};
