// Big letters for a projector: how to join, and the latest verdicts.
import { byId, fill, make } from "./dom.js";
import { runHead } from "./runs.js";
import { ask, pause } from "./server.js";

const EVERY_MS = 3000;
const MOST = 4;
const seen = new Map();

const look = async () => {
  const answer = await ask("/class");
  if (!answer.ok) return;
  byId("address").textContent = answer.address;
  byId("code").textContent = answer.code;
  byId("queue").textContent = answer.frozen ? "no more clips for now" : answer.waiting === 0 ? "" : `${answer.waiting} waiting`;
  const done = answer.teams.flatMap((team) => team.runs.filter((run) => run.verdict).map((run) => ({ key: `${team.id}-${run.number}`, team, run })));
  for (const { key } of done) if (!seen.has(key)) seen.set(key, seen.size);
  done.sort((a, b) => seen.get(b.key) - seen.get(a.key));
  fill(byId("latest"), ...done.slice(0, MOST).map(({ team, run }) => make("li", {},
    make("span", { class: "soft" }, `${team.name}, ${runHead(run)}`), make("strong", {}, run.verdict.says),
    run.verdict.try_next.length > 0 ? make("span", {}, `Try: ${run.verdict.try_next[0]}`) : null)));
};

for (;;) {
  await look();
  await pause(EVERY_MS);
}
