// The pupils' page: join, car, clip, verdict.
import { openCar, startCar } from "./car.js";
import { byId, fill, make } from "./dom.js";
import { megabytes, needsHelp, runBody, runHead, same, sentence, stateWords } from "./runs.js";
import { pointOut } from "./point.js";
import { send } from "./send.js";
import { ask, pause, remove, tell } from "./server.js";

const EVERY_MS = 2500;
let mine = null;
let car = null;
let sending = false;

const lost = (words) => {
  byId("lost").hidden = words === "";
  byId("lost").textContent = words;
};

const showCars = () => {
  const cars = mine.cars;
  if (!cars.some((one) => one.id === car)) car = cars[0]?.id ?? null;
  const name = (one) => one.draft.car?.texts?.name ?? one.id;
  fill(byId("cars"), ...cars.map((one) => make("button", {
    type: "button", "aria-pressed": String(one.id === car), onclick: () => { car = one.id; showCars(); },
  }, name(one))));
  byId("car-edit").hidden = cars.length === 0;
};

const runCard = (run) => {
  const card = make("article", { class: "run", id: `run-${run.number}` },
    make("h3", {}, `Run ${run.number}: ${runHead(run)}`),
    make("p", { class: "state" }, stateWords(run)),
    run.state === "receiving" && !sending ? make("p", { class: "fine" }, `Choose \u201c${run.clip}\u201d again to go on sending it.`) : null,
    runBody(`/runs/${run.number}`, run),
    needsHelp(run) ? pointOut(run, mine.colours, look) : null);
  const buttons = [];
  if (run.state === "failed") buttons.push(make("button", { type: "button", onclick: () => again(run) }, "Measure it again"));
  if (run.state !== "measuring") buttons.push(make("button", { type: "button", onclick: () => drop(run) }, "Delete"));
  card.append(make("p", { class: "buttons" }, ...buttons));
  return card;
};

const again = async (run) => {
  await tell(`/runs/${run.number}/again`);
  await look();
};

const drop = async (run) => {
  if (!globalThis.confirm(`Delete run ${run.number} with its clip and result? It cannot be brought back.`)) return;
  const answer = await remove(`/runs/${run.number}`);
  if (!answer.ok) lost(`${sentence(answer.says)} ${sentence(answer.hint)}`);
  await look();
};

const showRuns = (before) => {
  const runs = byId("runs");
  const known = new Map((before?.runs ?? []).map((run) => [run.number, run]));
  if (mine.runs.length === 0) {
    fill(runs, make("p", { class: "fine" }, "Nothing was sent yet."));
    return;
  }
  fill(runs, ...mine.runs.map((run) => {
    const there = byId(`run-${run.number}`);
    return there && same(known.get(run.number), run) ? there : runCard(run);
  }));
};

const look = async () => {
  const answer = await ask("/mine");
  if (answer.status === 401) {
    mine = null;
    byId("join").hidden = false;
    byId("inside").hidden = true;
    return;
  }
  lost(answer.ok ? "" : `${sentence(answer.says)} ${sentence(answer.hint)}`);
  if (!answer.ok || same(mine, answer)) return;
  const before = mine;
  mine = answer;
  byId("join").hidden = true;
  byId("inside").hidden = false;
  byId("who").textContent = `Team ${mine.team} \u00b7 key for a second phone: ${mine.key}`;
  byId("frozen").hidden = !mine.frozen;
  fill(byId("treatments"), ...mine.treatments.map((value) => make("option", { value })));
  showCars();
  showRuns(before);
  if (mine.cars.length === 0 && before === null) openCar(null);
};

const join = async (event) => {
  event.preventDefault();
  const wish = { code: byId("code").value, team: byId("team").value, key: byId("key").value };
  const answer = await tell("/join", wish);
  byId("join-fault").textContent = answer.ok ? "" : `${sentence(answer.says)} ${sentence(answer.hint)}`;
  if (answer.ok) await look();
};

const progress = (sent, of, words) => {
  byId("sending").hidden = false;
  if (sent !== null) byId("sent").value = sent / of;
  byId("sent-words").textContent = words || `${megabytes(sent)} of ${megabytes(of)}`;
};

const chosen = async (input) => {
  const file = input.files[0];
  input.value = "";
  if (!file || sending) return;
  const fault = byId("send-fault");
  fault.textContent = "";
  if (car === null) {
    fault.textContent = "Say first which car it is.";
    openCar(null);
    return;
  }
  if (file.size > mine.most_bytes) {
    fault.textContent = `This clip has ${megabytes(file.size)}, more than the ${megabytes(mine.most_bytes)} that are taken. Film ten seconds at most.`;
    return;
  }
  sending = true;
  const wish = { car, treatment: byId("treatment").value, change: byId("change").value };
  const answer = await send(file, wish, mine.piece_bytes, progress);
  sending = false;
  byId("sending").hidden = true;
  fault.textContent = answer.ok ? "" : `${sentence(answer.says)} ${sentence(answer.hint)}`;
  if (answer.ok) byId("change").value = "";
  await look();
};

startCar(async (saved) => {
  car = saved;
  await look();
});
byId("join-form").addEventListener("submit", join);
byId("car-new").addEventListener("click", () => openCar(null));
byId("car-edit").addEventListener("click", () => openCar(mine.cars.find((one) => one.id === car)?.draft));
for (const name of ["film", "choose"]) byId(name).addEventListener("change", (event) => chosen(event.target));
for (;;) {
  await look();
  await pause(EVERY_MS);
}
