// Steps that can be taken back and done again: the whole draft, the patches and what was chosen, before each change.
import { changed, state } from "./state.js";

const past = [];
let future = [];
const MOST_STEPS = 200;

const snapshot = (kind = null) => ({ kind, draft: structuredClone(state.draft), patches: [...state.patches], chosen: state.chosen });

// Before a change. Steps of one kind that follow each other are one: the letters of a number, the presses of an arrow
// key.
export const remember = (kind = null) => {
  const goesOn = kind && past.at(-1)?.kind === kind && future.length === 0;
  future = [];
  if (goesOn) return;
  past.push(snapshot(kind));
  if (past.length > MOST_STEPS) past.shift();
};

export const canTakeBack = () => past.length > 0;
export const canDoAgain = () => future.length > 0;

// A sheet that is read again has other parts.
export const forget = () => { past.length = 0; future = []; };

// What was saved has new places in the file: whoever comes back later by a step goes by these.
export const rebase = (draft) => {
  const onWheel = (own) => [own.wheel_mark, ...own.more_wheel_marks].filter(Boolean);
  for (const step of [...past, ...future]) {
    for (const mark of onWheel(step.draft)) mark.from = onWheel(draft).find((own) => own.texts.colour === mark.texts.colour)?.from ?? null;
    for (const mark of step.draft.floor_marks) mark.from = draft.floor_marks.find((own) => own.number === mark.number)?.from ?? null;
  }
};

const go = (from, to) => {
  const step = from.pop();
  if (!step) return;
  to.push(snapshot(step.kind));
  Object.assign(state, { draft: step.draft, patches: step.patches, chosen: step.chosen });
  changed("marks");
};

export const takeBack = () => go(past, future);
export const doAgain = () => go(future, past);
