// The coach's page: queue, teams, who needs help.
import { byId, fill, make } from "./dom.js";
import { needsHelp, runBody, runHead, same, sentence, stateWords } from "./runs.js";
import { ask, pause, tell } from "./server.js";

const EVERY_MS = 2000;
let known = null;

const fault = (answer) => { byId("fault").textContent = answer.ok ? "" : `${sentence(answer.says)} ${sentence(answer.hint)}`; };

const act = async (address, what) => {
  fault(await tell(address, what));
  await look();
};

const drop = (team, run) => {
  const words = run ? `Delete run ${run.number} of ${team.name}, with its clip?` : `Delete ${team.name} with everything that it sent?`;
  if (globalThis.confirm(`${words} It cannot be brought back.`)) act("/delete", { team: team.id, number: run?.number ?? null });
};

const place = (team, run) => `/runs/${team.id}/${run.number}`;

const runRow = (team, run) => {
  const said = run.verdict?.says ?? run.why?.says ?? "";
  const buttons = make("p", { class: "buttons" },
    run.state === "failed" ? make("button", { type: "button", onclick: () => act("/again", { team: team.id, number: run.number }) }, "Measure it again") : null,
    run.state === "measuring" ? null : make("button", { type: "button", onclick: () => drop(team, run) }, "Delete"));
  return make("details", { class: "run", id: `run-${team.id}-${run.number}` },
    make("summary", {}, make("span", { class: "which" }, `Run ${run.number}: ${runHead(run)}`),
      make("span", { class: "state" }, stateWords(run)), make("span", { class: "said" }, said)),
    runBody(place(team, run), run), buttons);
};

const teamBlock = (team, before) => {
  const old = new Map((before?.runs ?? []).map((run) => [run.number, run]));
  const rows = team.runs.map((run) => {
    const there = byId(`run-${team.id}-${run.number}`);
    return there && same(old.get(run.number), run) ? there : runRow(team, run);
  });
  return make("section", { class: "team" },
    make("h3", {}, team.name, " ", make("span", { class: "fine" }, `key ${team.key}`)),
    rows.length === 0 ? make("p", { class: "fine" }, "Nothing was sent yet.") : null,
    ...rows,
    make("p", {}, make("button", { class: "link", type: "button", onclick: () => drop(team, null) }, `Delete ${team.name}`)));
};

const helpRow = (team, run) => make("li", {},
  make("a", { href: `#run-${team.id}-${run.number}`, onclick: () => { byId(`run-${team.id}-${run.number}`).open = true; } }, `${team.name}, run ${run.number}`),
  `: ${run.why?.says ?? run.verdict?.says ?? ""}`);

const many = (count, one, more) => `${count} ${count === 1 ? one : more}`;

const look = async () => {
  const answer = await ask("/class");
  if (!answer.ok) {
    fault(answer.status === 0 ? { ok: false, says: "The station does not answer", hint: "If it was stopped, start it again and open the new address" } : answer);
    return;
  }
  if (same(known, answer)) return;
  const before = new Map((known?.teams ?? []).map((team) => [team.id, team]));
  known = answer;
  const runs = known.teams.flatMap((team) => team.runs.map((run) => [team, run]));
  const measured = runs.filter(([, run]) => run.state === "done").length;
  byId("head").textContent = known.teams.length === 0 ? "Waiting for the first team"
    : `${many(known.teams.length, "team", "teams")}, ${many(runs.length, "run", "runs")}, ${measured} measured`;
  const free = known.free_mb === null ? "" : ` \u00b7 ${(known.free_mb / 1000).toFixed(1)} GB free on the disk`;
  byId("numbers").textContent = `${many(known.waiting, "clip waits", "clips wait")}${free}`;
  byId("address").textContent = known.address;
  byId("code").textContent = known.code;
  byId("comparison").hidden = !known.comparison;
  const freeze = byId("freeze");
  freeze.setAttribute("aria-pressed", String(known.frozen));
  freeze.textContent = known.frozen ? "Take clips again" : "Take no more clips";
  const help = runs.filter(([, run]) => needsHelp(run));
  byId("help").hidden = help.length === 0;
  fill(byId("help-list"), ...help.map(([team, run]) => helpRow(team, run)));
  fill(byId("teams"), ...known.teams.map((team) => teamBlock(team, before.get(team.id))));
};

byId("freeze").addEventListener("click", () => act("/freeze", { on: !known.frozen }));
byId("compare").addEventListener("click", async (event) => {
  event.target.disabled = true;
  await act("/compare", {});
  event.target.disabled = false;
});
for (;;) {
  await look();
  await pause(EVERY_MS);
}
