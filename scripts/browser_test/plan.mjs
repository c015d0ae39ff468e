// The plan's page in a real browser: one car of the evening whose summaries are kept in fixtures/.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { through, ticksOf } from "./axes.mjs";

const METRES = 5;

const plan = (gripline, repository, workplace) => {
  const out = join(workplace, "results", "plan");
  const results = join(repository, "fixtures", "club-evening", "results");
  const words = ["plan", results, "--distance-m", String(METRES), "--treatment", "bare", "--out", out, "--replace"];
  execFileSync(gripline, words, { stdio: ["ignore", "ignore", "inherit"] });
  const numbers = JSON.parse(readFileSync(join(out, "plan.json"), "utf8"));
  return { url: pathToFileURL(join(out, "plan.html")).href, numbers };
};

// The chart's lines and the numbers on its axes, in the chart's own pixels.
const drawn = async (page) => {
  const svg = page.locator('[data-chart="trade-off"] svg');
  const ticks = await svg.evaluate(ticksOf);
  const lines = await svg.evaluate(linesOf);
  return { lines, ticks };
};

const linesOf = (svg) => [...svg.querySelectorAll("polyline")]
  .map((line) => line.getAttribute("points").trim().split(/\s+/).map((pair) => pair.split(",").map(Number)));

// Every setting that gets over the sprint is a corner of a line, at its time and its stopping place.
const chart = async (page, numbers) => {
  const { lines, ticks } = await drawn(page);
  const across = ticks.filter((tick) => tick.anchor === "middle");
  const up = ticks.filter((tick) => tick.anchor === "end");
  assert.ok(across.length > 2 && up.length > 2, "both axes have numbers");
  const x = through([Number(across[0].said), across[0].x], [Number(across.at(-1).said), across.at(-1).x]);
  const y = through([Number(up[0].said), up[0].y], [Number(up.at(-1).said), up.at(-1).y]);
  // A number stands beside its tick with its base line a little lower than the tick.
  const lower = up[0].y - y(Number(up[0].said));
  let seen = 0;
  for (const lever of numbers.trade_off) {
    for (const place of lever.places.filter((one) => one.sprint_s)) {
      const at = [x(place.sprint_s.value), y(place.stop_m.value) - lower];
      const off = Math.min(...lines.flat().map(([a, b]) => Math.hypot(a - at[0], b - at[1])));
      assert.ok(off < 7, `${lever.lever} at ${place.size}: ${off} px off its line`);
      seen += 1;
    }
  }
  assert.ok(seen > 4, `${seen} settings in the chart`);
  const shown = numbers.trade_off.filter((lever) => lever.places.filter((one) => one.sprint_s).length > 1);
  assert.equal(await page.locator(".legend span").count(), shown.length, "the legend names what is drawn");
};

export const planned = async (browser, { gripline, repository, workplace, open, pages, accessible }) => {
  const run = plan(gripline, repository, workplace);
  const { context, page, complaints } = await open(browser, run);
  assert.equal(await page.locator("h1").textContent(), run.numbers.headline);
  await chart(page, run.numbers);
  assert.equal(await page.locator("table.levers tbody tr").count(), run.numbers.levers.length);
  assert.equal(await page.locator("table.changes-by tbody tr").count(), run.numbers.changes.length);
  // What one lever gives stands with its interval, or that it alone does not do it.
  for (const row of await page.locator("table.levers tbody tr").allTextContents()) {
    assert.ok(/\d to \d/.test(row) || row.includes("cannot be told"), row);
  }
  assert.ok(!(await page.locator(".learnt table").isVisible()), "what was learnt is folded");
  for (const format of ["A4", "Letter"]) {
    assert.equal(pages(await page.pdf({ format, preferCSSPageSize: false })), 1, `plan: one page of ${format}`);
  }
  const cut = await page.evaluate(() => [...document.querySelectorAll(".wide")]
    .filter((one) => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1).map((one) => one.getAttribute("aria-label")));
  assert.deepEqual(cut, [], "tables are cut");
  assert.deepEqual(complaints, []);
  await context.close();
  const plain = await open(browser, run, { javaScriptEnabled: false });
  assert.ok(await plain.page.locator('[data-chart="trade-off"] svg').isVisible(), "the chart without script");
  await plain.page.locator("summary").first().click();
  assert.ok(await plain.page.locator(".learnt table").isVisible(), "and what was learnt unfolds");
  await plain.context.close();
  await accessible(browser, run, "plan");
};
