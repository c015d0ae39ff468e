// Runs and their verdicts, for the pupils' and the coach's page alike.
import { make } from "./dom.js";

// Shape and word stand for each state, so that no colour is needed.
const STATES = {
  receiving: ["\u2191", "on its way"],
  waiting: ["\u23f3", "in the queue"],
  measuring: ["\u25b6", "being measured"],
  done: ["\u2713", "measured"],
  failed: ["!", "no result"],
};

// A capital at its beginning and a full stop at its end.
export const sentence = (text) => `${text.charAt(0).toUpperCase()}${text.slice(1).replace(/\.$/, "")}.`;

export const megabytes = (bytes) => `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;

export const stateWords = (run) => {
  const [sign, words] = STATES[run.state];
  if (run.state === "receiving") return `${sign} ${words}: ${megabytes(run.bytes[0])} of ${megabytes(run.bytes[1])}`;
  if (run.state === "waiting" && run.before !== null) {
    return `${sign} ${words}: ${run.before === 0 ? "next" : `${run.before} before it`}`;
  }
  return `${sign} ${words}`;
};

// Whether somebody should look at it: no result, or one that decides nothing.
export const needsHelp = (run) => run.state === "failed" || run.verdict?.cause === "undetermined";

const list = (words, lines) => (lines.length === 0 ? null
  : make("div", {}, make("h4", {}, words), make("ul", {}, ...lines.map((line) => make("li", {}, line)))));

const LINKS = {
  "report.html": "Report",
  "worksheet.html": "Worksheet",
  "poster.html": "Poster to print",
  "frames.csv": "Numbers, frame by frame",
};

const shown = (address, run) => {
  const { verdict } = run;
  const has = (name) => verdict.files.includes(name);
  const links = Object.entries(LINKS).filter(([name]) => has(name))
    .map(([name, words]) => make("a", { href: `${address}/${name}`, target: "_blank", rel: "noopener" }, words));
  return make("div", { class: "result" },
    make("p", { class: "verdict" }, verdict.says),
    list("What shows it", verdict.because),
    verdict.cause === "undetermined" ? list("What this view could not show", verdict.not_seen) : null,
    list("What to try next", verdict.try_next),
    has("overlay.mp4") ? make("video", { src: `${address}/overlay.mp4`, controls: true, preload: "metadata", playsInline: true }) : null,
    has("poster.png") ? make("a", { href: `${address}/poster.png`, target: "_blank", rel: "noopener" },
      make("img", { src: `${address}/poster.png`, alt: "The run in one picture", loading: "lazy" })) : null,
    make("p", { class: "links" }, ...links));
};

// What is told of a run below its head. `address` is where its files are.
export const runBody = (address, run) => {
  if (run.state === "done" && run.verdict) return shown(address, run);
  if (run.state === "done") return make("p", { class: "fault" }, "The result cannot be read. Show it to your coach.");
  if (run.state === "failed") {
    return make("div", {}, make("p", { class: "fault" }, sentence(run.why.says)), make("p", {}, sentence(run.why.hint)));
  }
  return null;
};

export const runHead = (run) => [run.car, run.treatment || "no treatment named", run.change].filter(Boolean).join(" \u00b7 ");

// Changes only when what is told changes, so that an open list or a playing clip stays as it is.
export const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
