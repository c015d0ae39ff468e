// Shapes and words of marks. A mark is told by its shape and number; its colour only comes on top.
import { make } from "./dom.js";

export const ROLES = {
  sticker: { short: "sticker", long: "sticker on the body" },
  wheel_mark: { short: "wheel", long: "mark on the driven wheel" },
  axle_mark: { short: "axle", long: "mark on the end of the driven axle" },
  more_wheel_marks: { short: "wheel too", long: "one more mark on the driven wheel, in a colour of its own" },
  floor_mark: { short: "floor", long: "mark on the floor" },
  "": { short: "none", long: "not one of your marks" },
};

const OUTLINES = {
  sticker: "M12 3a9 9 0 1 1 0 18a9 9 0 1 1 0-18z",
  wheel_mark: "M12 2l10 10-10 10L2 12z",
  more_wheel_marks: "M12 2l10 10-10 10L2 12z",
  axle_mark: "M12 3l10 18H2z",
  floor_mark: "M4 4h16v16H4z",
  "": "M12 5v14M5 12h14",
};

// The outline of a role, drawn twice so that it stands out on any ground.
export const shape = (role) => make("svg", { viewBox: "0 0 24 24", class: `shape ${role || "none"}`, "aria-hidden": "true" },
  make("path", { d: OUTLINES[role], class: "under" }), make("path", { d: OUTLINES[role], class: "upper" }));

export const swatch = (colour) => make("span", { class: `swatch ${colour || "no-colour"}`, "aria-hidden": "true" });

const MANNERS = { still: "lies still", moving: "moves", circling: "goes round next to the sticker", pointed: "pointed at by you" };

export const patchWords = (patch, frames) => {
  if (patch.manner === "pointed") return "pointed at by you";
  const seen = patch.frames_seen === frames ? "every frame" : `${patch.frames_seen} of ${frames} frames`;
  return `${MANNERS[patch.manner]}, seen in ${seen}`;
};
