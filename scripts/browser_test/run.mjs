// The report page in a real browser: node run.mjs GRIPLINE REPOSITORY WORKPLACE CHROMIUM
//
// It measures kept clips and then checks, for each page: nothing is fetched and nothing complains; the
// charts hold the values of frames.csv and can be read by keyboard and pointer; it is whole without
// script; it unfolds, plays the clip beside it, and prints on two pages of A4 and of Letter; it fits a phone's width; and
// axe-core (rules of WCAG 2.2) finds nothing serious, light or dark.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { comparison } from "./comparison.mjs";
import { pictures } from "./pictures.mjs";
import { planned } from "./plan.mjs";

const [gripline, repository, workplace, chromium] = process.argv.slice(2);
const require = createRequire(join(workplace, "package.json"));
const { chromium: browserType } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const RUNS = ["spin-out", "veer", "clean", "no-wheel-mark", "two-marks", "portrait", "pan", "wobble"];
// A clip whose clock is in doubt: no speeds, and charts that go by the frames' numbers.
const DOUBTED = "slow-motion-120";
const WIDTHS = [390, 1440];

const measure = (run, more = ["--no-overlay"]) => {
  const out = join(workplace, "results", run);
  const fixture = join(repository, "fixtures", run);
  const words = ["measure", join(fixture, "clip.mp4"), "--sheet", join(fixture, "run.toml")];
  execFileSync(gripline, [...words, "--out", out, "--replace", ...more], { stdio: ["ignore", "ignore", "inherit"] });
  const lines = readFileSync(join(out, "clip", "frames.csv"), "utf8").trimEnd().split("\r\n").map((line) => line.split(","));
  const [head, ...rows] = lines;
  const cell = (row, name) => {
    const text = rows[row][head.indexOf(name)];
    return text === "" ? null : Number(text);
  };
  return { url: pathToFileURL(join(out, "clip", "report.html")).href, rows: rows.length, cell };
};

const open = async (browser, run, options = {}) => {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, ...options });
  const page = await context.newPage();
  const complaints = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) complaints.push(message.text());
  });
  page.on("pageerror", (error) => complaints.push(String(error)));
  page.on("request", (request) => {
    if (request.url() !== run.url && !request.url().startsWith("data:")) complaints.push(`fetches ${request.url()}`);
  });
  await page.goto(run.url);
  return { context, page, complaints };
};

// Numbers of the words that a reader hears.
const numbers = (text) => [...text.replaceAll("\u2212", "-").matchAll(/-?\d+(?:\.\d+)?/g)].map((match) => Number(match[0]));

const keyboard = async (page, run, name) => {
  const plot = page.locator('[data-chart="speed"]');
  await plot.focus();
  assert.equal(await plot.getAttribute("role"), "slider", `${name}: the chart has a role`);
  await page.keyboard.press("End");
  const last = Number(await plot.getAttribute("aria-valuenow"));
  for (let presses = 0; presses < 5; presses += 1) await page.keyboard.press("ArrowLeft");
  const frame = Number(await plot.getAttribute("aria-valuenow"));
  assert.equal(frame, last - 5, `${name}: five frames back`);
  const heard = await plot.getAttribute("aria-valuetext");
  const [time, car] = numbers(heard);
  assert.ok(Math.abs(time - run.cell(frame, "time_s")) < 6e-4, `${name}: ${heard}`);
  assert.ok(Math.abs(car - run.cell(frame, "speed_m_per_s")) < 6e-4, `${name}: ${heard}`);
  assert.ok(await page.locator(".viewer").isVisible(), `${name}: the frame is shown`);
  const shown = Number(await page.locator(".viewer .cell").getAttribute("data-frame"));
  assert.ok(Math.abs(shown - frame) <= 3, `${name}: frame ${shown} for ${frame}`);
  await page.keyboard.press("Escape");
  assert.ok(!(await page.locator(".viewer").isVisible()), `${name}: and goes`);
};

const pointer = async (page, run, name) => {
  const plot = page.locator('[data-chart="speed"]');
  await plot.scrollIntoViewIfNeeded();
  const box = await plot.boundingBox();
  const chart = await page.evaluate(() => JSON.parse(document.getElementById("readings").textContent).charts[0]);
  const [left, , right] = chart.area;
  const frame = Math.floor(run.rows * 0.6);
  const share = (run.cell(frame, "time_s") - chart.x_range[0]) / (chart.x_range[1] - chart.x_range[0]);
  const x = box.x + (left + share * (right - left)) / 560 * box.width;
  await page.mouse.move(x, box.y + box.height / 2);
  const read = Number(await plot.getAttribute("aria-valuenow"));
  assert.ok(Math.abs(read - frame) <= 1, `${name}: the pointer reads frame ${read} for ${frame}`);
  // The dot lies on the drawn line: its height is the value's.
  const dot = await plot.locator(".dot").first().boundingBox();
  const [, top, , bottom] = chart.area;
  const up = (run.cell(read, "speed_m_per_s") - chart.y_range[0]) / (chart.y_range[1] - chart.y_range[0]);
  const y = box.y + (bottom - up * (bottom - top)) / 360 * box.height;
  assert.ok(Math.abs(dot.y + dot.height / 2 - y) < 2, `${name}: the dot is off by ${dot.y + dot.height / 2 - y} px`);
  await page.mouse.move(5, 5);
};

const charts = async (page, run, name) => {
  const found = await page.evaluate(() => [...document.querySelectorAll(".chart")].map((chart) => ({
    lines: chart.querySelectorAll(".plot svg polyline, .plot svg line").length,
    words: chart.querySelectorAll(".plot svg text").length,
    rows: chart.querySelectorAll("details tbody tr").length,
    missing: chart.textContent.includes("Not observable"),
  })));
  assert.equal(found.length, 4, `${name}: four charts`);
  for (const chart of found.filter((one) => !one.missing)) {
    assert.ok(chart.lines > 5 && chart.words > 6 && chart.rows > 8, `${name}: ${JSON.stringify(chart)}`);
  }
  const speeds = await page.evaluate(() => JSON.parse(document.getElementById("readings").textContent).charts[0].series[0].values);
  assert.equal(speeds.length, run.rows);
  speeds.forEach((speed, row) => {
    const ours = run.cell(row, "speed_m_per_s");
    assert.ok(speed === ours || Math.abs(speed - ours) < 2e-5, `${name}: row ${row}: ${speed} and ${ours}`);
  });
};

const pages = (pdf) => pdf.toString("latin1").match(/\/Type\s*\/Page(?![s\w])/g)?.length ?? 0;

const printed = async (page, name) => {
  for (const format of ["A4", "Letter"]) {
    const pdf = await page.pdf({ format, preferCSSPageSize: false });
    assert.equal(pages(pdf), 2, `${name}: pages of ${format}`);
  }
};

const accessible = async (browser, run, name) => {
  for (const colorScheme of ["light", "dark"]) {
    for (const width of WIDTHS) {
      const options = { colorScheme, viewport: { width, height: 900 }, bypassCSP: true };
      const { context, page } = await open(browser, run, options);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= width, `${name}: ${wide} px wide in ${width}`);
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => globalThis.axe.run(document));
      const serious = violations.filter((one) => ["serious", "critical"].includes(one.impact));
      const told = serious.map((one) => `${one.id}: ${one.help}: ${one.nodes[0]?.html}`);
      assert.deepEqual(told, [], `${name}, ${colorScheme}, ${width} px`);
      await context.close();
    }
  }
};

const withoutScript = async (browser, run, name) => {
  const chart = `[data-chart="${name === DOUBTED ? "slip" : "speed"}"]`;
  const { context, page, complaints } = await open(browser, run, { javaScriptEnabled: false });
  assert.ok(await page.locator("h1").isVisible(), name);
  assert.ok(await page.locator(`${chart} svg`).isVisible(), `${name}: charts without script`);
  assert.equal(await page.locator(chart).getAttribute("role"), "img");
  assert.ok(!(await page.locator(".reading-help").isVisible()), `${name}: no promise that needs the script`);
  await page.locator("summary").first().click();
  assert.ok(await page.locator("details table").first().isVisible(), `${name}: tables without script`);
  assert.deepEqual(complaints, [], name);
  await context.close();
};

const doubted = async (page, run, name) => {
  assert.ok(await page.locator(".notice").isVisible(), `${name}: the doubt is said`);
  const speed = page.locator("#chart-speed");
  assert.ok((await speed.textContent()).includes("Not observable"), `${name}: why there are no speeds`);
  assert.equal(await speed.locator("svg").count(), 0, `${name}: no speeds are drawn`);
  const plot = page.locator('[data-chart="slip"]');
  await plot.focus();
  await page.keyboard.press("End");
  const frame = Number(await plot.getAttribute("aria-valuenow"));
  const heard = await plot.getAttribute("aria-valuetext");
  const [number, slip] = numbers(heard);
  assert.ok(heard.startsWith("frame ") && number === frame, `${name}: ${heard}`);
  assert.ok(Math.abs(slip - run.cell(frame, "slip_ratio")) < 6e-4, `${name}: ${heard}`);
  await page.keyboard.press("Escape");
};

const folded = async (page, name) => {
  const table = page.locator("table.results");
  assert.ok(!(await table.isVisible()), `${name}: results are folded`);
  await page.locator("#results").click();
  assert.ok(await table.isVisible(), `${name}: and unfold`);
  await page.locator("#results").click();
};

// The annotated clip plays from beside the page; where it is missing, a line says so.
const played = async (browser) => {
  const run = measure("clean", []);
  const { context, page, complaints } = await open(browser, run);
  const play = () => page.evaluate(() => document.querySelector("video").play().then(() => true, () => false));
  assert.deepEqual(complaints, [], "nothing is fetched before it plays");
  assert.ok(await play(), "the clip plays");
  assert.ok(await page.evaluate(() => document.querySelector("video").duration > 1.5));
  rmSync(fileURLToPath(new URL("overlay.mp4", run.url)));
  await page.reload();
  assert.ok(!(await page.locator(".no-film").isVisible()));
  assert.ok(!(await play()), "there is no clip");
  await page.locator(".no-film").waitFor({ state: "visible", timeout: 5000 });
  await context.close();
};

mkdirSync(join(workplace, "results"), { recursive: true });
const browser = await browserType.launch({
  executablePath: chromium,
  // A browser does not sandbox itself for the superuser, and containers have a small /dev/shm.
  args: ["--no-sandbox", "--disable-dev-shm-usage"],
});
try {
  for (const name of [...RUNS, DOUBTED]) {
    const run = measure(name);
    const { context, page, complaints } = await open(browser, run);
    if (name === DOUBTED) {
      await doubted(page, run, name);
    } else {
      await charts(page, run, name);
      await keyboard(page, run, name);
      await pointer(page, run, name);
    }
    await folded(page, name);
    await printed(page, name);
    assert.deepEqual(complaints, [], name);
    await context.close();
    await withoutScript(browser, run, name);
    await accessible(browser, run, name);
    console.error(`browser test: ${name} good`);
  }
  await played(browser);
  console.error("browser test: annotated clip good");
  await pictures(browser, { measure, open, pages, axe });
  console.error("browser test: poster, worksheet and large view good");
  await comparison(browser, { gripline, repository, workplace, open, pages, accessible });
  console.error("browser test: comparison good");
  await planned(browser, { gripline, repository, workplace, open, pages, accessible });
  console.error("browser test: plan good");
} finally {
  await browser.close();
  rmSync(join(workplace, "results"), { recursive: true, force: true });
}
