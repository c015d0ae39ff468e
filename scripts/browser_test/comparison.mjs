// The comparison page in a real browser: an evening of twelve runs, whose summaries are kept in fixtures/.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { through, ticksOf } from "./axes.mjs";

// Sheets of paper that the evening may take.
const MOST_PAGES = 6;
const QUANTITIES = ["spun_away_m", "max_slip", "peak_speed_m_per_s", "final_deviation_m"];

const compare = (gripline, repository, workplace) => {
  const out = join(workplace, "results", "comparison");
  const results = join(repository, "fixtures", "club-evening", "results");
  const words = ["compare", results, "--detect", "spun_away_m=0.1", "--out", out, "--replace"];
  execFileSync(gripline, words, { stdio: ["ignore", "ignore", "inherit"] });
  const numbers = JSON.parse(readFileSync(join(out, "comparison.json"), "utf8"));
  return { url: pathToFileURL(join(out, "comparison.html")).href, numbers };
};

// Middles of the marks and numbers on the axes of a chart, in the chart's own pixels.
const drawn = async (page, id, kind) => {
  const svg = page.locator(`#quantity-${id} [data-chart="${kind}"] svg`);
  const ticks = await svg.evaluate(ticksOf);
  const marks = await svg.evaluate(marksOf);
  return { marks, ticks };
};

const marksOf = (svg) => [...svg.querySelectorAll("polygon")].map((polygon) => {
  const corners = polygon.getAttribute("points").trim().split(/\s+/).map((pair) => pair.split(",").map(Number));
  const middle = (axis) => {
    const all = corners.map((corner) => corner[axis]);
    return (Math.min(...all) + Math.max(...all)) / 2;
  };
  return { x: middle(0), y: middle(1), hue: polygon.getAttribute("fill") };
});

const charts = async (page, numbers) => {
  for (const id of QUANTITIES) {
    const values = numbers.quantities[id].values;
    const groups = numbers.groups.map((group) => group.label);
    const inGroups = [...values].sort((a, b) => groups.indexOf(a.group) - groups.indexOf(b.group) || a.run - b.run);
    const { marks, ticks } = await drawn(page, id, "dots");
    assert.equal(marks.length, values.length, `${id}: every run is a dot`);
    assert.equal(new Set(marks.map((mark) => mark.hue)).size, groups.length, `${id}: a colour for each group`);
    const axis = ticks.filter((tick) => tick.anchor === "middle");
    assert.ok(axis.length > 2, `${id}: the axis has numbers`);
    const at = through([Number(axis[0].said), axis[0].x], [Number(axis.at(-1).said), axis.at(-1).x]);
    // Lengths below a tenth of a metre are drawn in millimetres.
    const factor = Math.abs(Number(axis.at(-1).said)) > 2 * Math.max(...values.map((v) => Math.abs(v.high))) ? 1000 : 1;
    inGroups.forEach((value, place) => {
      const off = marks[place].x - at(value.value * factor);
      assert.ok(Math.abs(off) < 2, `${id}: run ${value.run} lies ${off} px off its value`);
    });
    const ordered = await drawn(page, id, "order");
    assert.equal(ordered.marks.length, values.length);
    const runs = ordered.ticks.filter((tick) => tick.anchor === "middle");
    assert.equal(runs.at(-1).said, String(numbers.runs.length), `${id}: runs are numbered`);
    const place = through([Number(runs[0].said), runs[0].x], [Number(runs.at(-1).said), runs.at(-1).x]);
    values.forEach((value, index) => {
      const off = ordered.marks[index].x - place(value.run);
      assert.ok(Math.abs(off) < 2, `${id}: run ${value.run} lies ${off} px off its place`);
    });
    const rows = await page.locator(`#quantity-${id} details tbody tr`).count();
    assert.equal(rows, values.length, `${id}: the table behind the charts`);
    const alt = await page.locator(`#quantity-${id} [data-chart="dots"]`).getAttribute("aria-label");
    assert.ok(groups.every((group) => alt.includes(group)), `${id}: ${alt}`);
  }
};

// Which, how much and how sure stand on the first screen with a chart, and no table is cut.
const firstScreen = async (browser, run, open) => {
  for (const [width, height] of [[1280, 800], [1440, 900]]) {
    const { context, page } = await open(browser, run, { viewport: { width, height } });
    const found = await page.evaluate(() => ({
      chart: document.querySelector(".first svg").getBoundingClientRect().bottom,
      sure: document.querySelector(".sure").getBoundingClientRect().bottom,
      interval: / to /.test(document.querySelector(".sure").textContent),
      cut: [...document.querySelectorAll(".wide")].filter((one) => one.scrollWidth > one.clientWidth + 1)
        .map((one) => one.getAttribute("aria-label")),
      empty: [...document.querySelectorAll("table")].flatMap((table) => {
        const rows = [...table.tBodies[0].rows];
        const spans = rows.some((row) => row.cells.length !== rows[0].cells.length);
        if (spans) return [];
        return [...table.tHead.rows[0].cells]
          .filter((_, column) => rows.every((row) => ["", "\u2013"].includes(row.cells[column].textContent.trim())))
          .map((head) => head.textContent);
      }),
    }));
    assert.ok(found.chart <= height && found.sure <= height, `comparison, ${width} px: ${JSON.stringify(found)}`);
    assert.ok(found.interval, "how sure is an interval");
    assert.deepEqual(found.cut, [], `comparison, ${width} px: tables are cut`);
    assert.deepEqual(found.empty, [], "columns that say nothing");
    await context.close();
  }
};

export const comparison = async (browser, { gripline, repository, workplace, open, pages, accessible }) => {
  const run = compare(gripline, repository, workplace);
  const { context, page, complaints } = await open(browser, run);
  assert.equal(await page.locator("h1").textContent(), run.numbers.headline);
  await charts(page, run.numbers);
  assert.equal(await page.locator("table.runs tbody tr").count(), run.numbers.runs.length);
  for (const format of ["A4", "Letter"]) {
    const count = pages(await page.pdf({ format, preferCSSPageSize: false }));
    assert.ok(count >= 2 && count <= MOST_PAGES, `comparison: ${count} pages of ${format}`);
  }
  assert.deepEqual(complaints, []);
  await context.close();
  const plain = await open(browser, run, { javaScriptEnabled: false });
  assert.ok(await plain.page.locator("#quantity-max_slip svg").first().isVisible(), "charts without script");
  await plain.page.locator("summary").first().click();
  assert.ok(await plain.page.locator("details table").first().isVisible(), "tables without script");
  await plain.context.close();
  await firstScreen(browser, run, open);
  await accessible(browser, run, "comparison");
};
