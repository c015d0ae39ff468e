// Sends a clip in pieces and goes on where it broke off, also after the page was closed.
import { ask, pause, sendPiece, tell } from "./server.js";

const KEY = "gripline-sending";
const LONGEST_PAUSE_MS = 15000;

const token = () => [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

const remembered = () => {
  try {
    return JSON.parse(localStorage.getItem(KEY)) ?? {};
  } catch {
    return {};
  }
};

const remember = (what) => {
  try {
    localStorage.setItem(KEY, JSON.stringify(what));
  } catch {
    // A phone that keeps nothing sends from the beginning after a reload.
  }
};

const mark = (file) => `${file.name}|${file.size}|${file.lastModified}`;

// One token a clip: the same clip, chosen again, goes on as the same run.
const tokenOf = (file) => {
  const known = remembered();
  const own = known[mark(file)] ?? token();
  remember({ ...known, [mark(file)]: own });
  return own;
};

export const forget = (file) => {
  const known = remembered();
  delete known[mark(file)];
  remember(known);
};

const passes = (answer) => answer.status === 0 || answer.status === 408 || answer.status >= 500 && answer.status !== 507;

// Asks until the network is back; what cannot pass by itself is answered.
const patient = async (step, waits) => {
  for (let ms = 500; ; ms = Math.min(2 * ms, LONGEST_PAUSE_MS)) {
    const answer = await step();
    if (!passes(answer)) return answer;
    waits(answer);
    await pause(ms);
  }
};

// `tellProgress(sent, of, words)` hears how far it is. Gives { ok } or why not.
export const send = async (file, wish, pieceBytes, tellProgress) => {
  const waits = (answer) => tellProgress(null, file.size, answer.says);
  const order = { ...wish, token: tokenOf(file), clip: file.name, bytes: file.size };
  const begun = await patient(() => tell("/runs", order), waits);
  if (!begun.ok) return begun;
  const address = `/runs/${begun.number}/clip`;
  const standing = await patient(() => ask(address), waits);
  if (!standing.ok) return standing;
  let offset = standing.offset;
  while (offset < file.size) {
    tellProgress(offset, file.size, "");
    const piece = await file.slice(offset, offset + pieceBytes).arrayBuffer();
    const at = offset;
    const answer = await patient(() => sendPiece(address, at, piece), waits);
    // The station has another count where an answer got lost on its way.
    if (answer.ok || answer.status === 409) offset = answer.offset ?? offset;
    else return answer;
    if (answer.status === 409) await pause(300);
  }
  forget(file);
  tellProgress(file.size, file.size, "");
  return { ok: true, number: begun.number };
};
