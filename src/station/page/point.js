// Shows the tool where the marks are, in the team's own clip: a colour, and a tap on the mark.
import { choice, fill, make } from "./dom.js";
import { sentence } from "./runs.js";
import { tell } from "./server.js";

const MARKS = [["sticker", "Sticker on the car", "magenta"], ["wheel_mark", "Mark on the wheel", "green"]];
// A step of the cross by an arrow key, as a share of the picture.
const STEP = 0.01;

const rowOf = (key, words, kit, colours, pick) => {
  const shown = { colour: null, at: null };
  const where = make("span", { class: "fine", role: "status" }, "not shown");
  const button = make("button", { type: "button" }, "Show it in the picture");
  const colour = choice(colours.map((name) => [name, name]), kit, `Colour: ${words}`, (value) => { shown.colour = value; });
  button.addEventListener("click", () => pick(words, (at) => {
    shown.at = at;
    where.textContent = `shown at ${at.at_s.toFixed(2)} s`;
  }));
  return { key, shown, row: make("div", { class: "mark" }, make("strong", {}, words), colour, button, where) };
};

// The clip with a sheet of glass over it while something is to be shown.
const screenOf = (address, says) => {
  const video = make("video", { src: address, controls: true, muted: true, playsInline: true, preload: "auto" });
  const cross = make("span", { class: "cross", hidden: true });
  const glass = make("div", { class: "glass", tabIndex: 0, hidden: true, role: "application" }, cross);
  let taken = null;
  let place = [0.5, 0.5];
  const show = () => {
    cross.hidden = false;
    cross.style.left = `${100 * place[0]}%`;
    cross.style.top = `${100 * place[1]}%`;
  };
  const take = () => {
    show();
    const [u, v] = [place[0] * video.videoWidth - 0.5, place[1] * video.videoHeight - 0.5];
    const at = { u_px: u, v_px: v, at_s: video.currentTime };
    glass.hidden = true;
    says.textContent = "";
    taken?.(at);
  };
  glass.addEventListener("click", (event) => {
    const box = glass.getBoundingClientRect();
    place = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    take();
  });
  glass.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-STEP, 0], ArrowRight: [STEP, 0], ArrowUp: [0, -STEP], ArrowDown: [0, STEP] }[event.key];
    if (way) {
      place = place.map((old, axis) => Math.min(1, Math.max(0, old + way[axis])));
      show();
      event.preventDefault();
    } else if (event.key === "Enter") take();
  });
  const pick = (words, then) => {
    video.pause();
    taken = then;
    glass.hidden = false;
    glass.setAttribute("aria-label", `Tap the middle of: ${words}; or arrow keys and Enter`);
    says.textContent = `Tap the middle of: ${words}.`;
    glass.focus();
  };
  return { screen: make("div", { class: "screen" }, video, glass), pick };
};

export const pointOut = (run, colours, saved) => {
  const box = make("div", { class: "point" });
  const says = make("p", { role: "status" });
  const open = () => {
    const { screen, pick } = screenOf(`/runs/${run.number}/film`, says);
    const rows = MARKS.map(([key, words, kit]) => rowOf(key, words, kit, colours, pick));
    const fault = make("p", { class: "fault", role: "alert" });
    const save = make("button", { class: "main", type: "button", onclick: async () => {
      const marks = Object.fromEntries(rows.map(({ key, shown }) => [key, shown]));
      const answer = await tell(`/runs/${run.number}/marks`, marks);
      fault.textContent = answer.ok ? "" : `${sentence(answer.says)} ${sentence(answer.hint)}`;
      if (answer.ok) saved();
    } }, "Measure with these marks");
    fill(box, make("p", {}, "Stop the clip where the car stands still and the marks are plain to see. Say which colours they have; show them if other things in the picture have the same colour."),
      screen, says, ...rows.map(({ row }) => row), fault, save);
  };
  fill(box, make("button", { type: "button", onclick: open }, "Show the marks"));
  return box;
};
