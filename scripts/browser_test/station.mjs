// The station in a real browser, at a phone's size from joining to the verdict, and the coach's page and board:
// node station.mjs GRIPLINE REPOSITORY WORKPLACE CHROMIUM [PICTURES]
//
// With a folder for PICTURES, screenshots are left there to be looked at.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdirSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const [gripline, repository, workplace, chromium, pictures] = process.argv.slice(2);
const require = createRequire(join(workplace, "package.json"));
const { chromium: browserType } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const LONGEST_MS = 240000;
// Of the sticker and the wheel mark in the clip that is shown by hand.
const COLOURS = ["orange", "cyan"];
const SIZES = {
  "car-name": "Tern", "car-wheel_diameter_mm": "96", "car-axle_diameter_mm": "13", "car-string_mm": "235", "car-mass_g": "185",
  "sticker-height_mm": "96", "sticker-ahead_mm": "106", "sticker-off_centre_mm": "46", "wheel_mark-radius_mm": "30",
};

const out = join(workplace, "class");
rmSync(out, { recursive: true, force: true });

const start = () => new Promise((ready, fail) => {
  const station = spawn(gripline, ["station", "--address", "127.0.0.1", "--port", "0", "--no-browser", "--out", out], { stdio: ["ignore", "pipe", "inherit"] });
  let said = "";
  station.stdout.on("data", (data) => {
    said += data;
    const pupils = said.match(/or open (\S+)/)?.[1];
    const code = said.match(/Code to join: (\S+)/)?.[1];
    const coach = said.match(/(http:\S+token=\S+)/)?.[1];
    if (pupils && code && coach) ready({ station, pupils, code, coach });
  });
  station.on("exit", (status) => fail(new Error(`the station ended with ${status}: ${said}`)));
});

const picture = async (page, name) => {
  if (pictures) await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
};

const watch = (page) => {
  const complaints = [];
  page.on("console", (message) => {
    // A phone that has not joined is told so.
    if (["error", "warning"].includes(message.type()) && !message.text().includes("401")) complaints.push(message.text());
  });
  page.on("pageerror", (error) => complaints.push(String(error)));
  return complaints;
};

const accessible = async (page, name) => {
  const wide = await page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  assert.ok(wide[0] <= wide[1], `${name}: ${wide[0]} px wide in ${wide[1]}`);
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document));
  const serious = violations.filter((one) => ["serious", "critical"].includes(one.impact));
  assert.deepEqual(serious.map((one) => `${one.id}: ${one.help}: ${one.nodes[0]?.html}`), [], name);
};

const pupil = async (page, address, code) => {
  await page.goto(address);
  await page.locator("#join").waitFor();
  await accessible(page, "join");
  await picture(page, "phone-join");
  await page.fill("#code", "AAA-AAA");
  await page.fill("#team", "The Terns");
  await page.click("#join-form button");
  await page.locator("#join-fault:not(:empty)").waitFor();
  await page.fill("#code", code.toLowerCase());
  await page.click("#join-form button");
  await page.locator("#car-form").waitFor();
  // What is wrong is told beside its field, and what is typed with a comma is a number.
  await page.fill("#field-car-name", "Tern");
  await page.fill("#field-car-mass_g", "heavy");
  await page.click("#car-form button[type=submit]");
  await page.locator("#field-car-mass_g-fault:not(:empty)").waitFor();
  for (const [field, value] of Object.entries(SIZES)) await page.fill(`#field-${field}`, field === "car-mass_g" ? "185,0" : value);
  await accessible(page, "car");
  await picture(page, "phone-car");
  await page.click("#car-form button[type=submit]");
  await page.locator("#cars button[aria-pressed=true]").waitFor();
  await page.fill("#treatment", "silicone bead");
  await page.setInputFiles("#choose", join(repository, "fixtures", "kit-beside", "clip.mp4"));
  await page.locator(".run").waitFor();
  await page.locator(".run .verdict").waitFor({ timeout: LONGEST_MS });
  await accessible(page, "verdict");
  await page.locator("video").evaluate((video) => new Promise((done) => { video.readyState > 0 ? done() : video.addEventListener("loadedmetadata", done); }));
  assert.ok(await page.locator("video").evaluate((video) => video.duration > 1), "the annotated clip plays");
  await page.locator(".result img").scrollIntoViewIfNeeded();
  await page.waitForFunction(() => document.querySelector(".result img").naturalWidth > 1000);
  await picture(page, "phone-verdict");
};

const noClip = async (page) => {
  const name = "IMG_2 <b>bold<\u002fb>.mp4";
  await page.setInputFiles("#choose", { name, mimeType: "video/mp4", buffer: Buffer.alloc(20000, 7) });
  await page.locator("#run-2 .fault").waitFor({ timeout: LONGEST_MS });
  assert.match(await page.locator("#run-2 .fault").textContent(), /not an MP4 or MOV video/);
  await picture(page, "phone-failed");
};

// A clip whose marks are not of the kit's colours: they are shown by hand, and then it is measured.
const shown = async (page) => {
  await page.setInputFiles("#choose", join(repository, "fixtures", "veer", "clip.mp4"));
  const run = page.locator("#run-3");
  await run.locator(".fault").waitFor({ timeout: LONGEST_MS });
  await run.locator(".point button").click();
  await run.locator("video").evaluate((video) => new Promise((done) => { video.readyState > 1 ? done() : video.addEventListener("canplay", done); }));
  await run.locator("select").first().selectOption(COLOURS[0]);
  await run.locator("select").last().selectOption(COLOURS[1]);
  await run.locator(".mark button").first().click();
  await run.locator(".glass").focus();
  await page.keyboard.press("ArrowLeft");
  await run.locator(".glass").click({ position: await spot(run) });
  await run.locator(".mark [role=status]", { hasText: "shown at" }).waitFor();
  await accessible(page, "marks");
  await picture(page, "phone-marks");
  await run.locator(".point button.main").click();
  await page.locator("#run-3 .verdict").waitFor({ timeout: LONGEST_MS });
};

// Where the sticker is at rest in the kept clip, by its truth, as a place in the picture on the page.
const spot = async (run) => {
  const box = await run.locator(".glass").boundingBox();
  const [width, height] = await run.locator("video").evaluate((video) => [video.videoWidth, video.videoHeight]);
  const [head, first] = readFileSync(join(repository, "fixtures", "veer", "truth_frames.csv"), "utf8").split(/\r?\n/).map((line) => line.split(","));
  const value = (name) => Number(first[head.indexOf(name)]);
  return { x: value("body_u") / width * box.width, y: value("body_v") / height * box.height };
};

const coach = async (context, address) => {
  const page = await context.newPage();
  const complaints = watch(page);
  await page.goto(address);
  await page.locator("#help-list li").first().waitFor();
  assert.equal(await page.locator("#help-list li").count(), 2, "no clip, and one that cannot tell");
  assert.match(await page.locator("#head").textContent(), /1 team, 3 runs, 2 measured/);
  await page.waitForFunction(() => document.querySelector(".scan img").naturalWidth > 100);
  await page.locator("details.run summary").last().click();
  await accessible(page, "coach");
  await picture(page, "coach");
  const board = await context.newPage();
  await board.setViewportSize({ width: 1280, height: 800 });
  await board.goto(new URL("/board", address).href);
  await board.locator("#latest li").first().waitFor();
  await accessible(board, "board");
  await picture(board, "board");
  await page.click("#compare");
  await page.locator("#comparison").waitFor();
  const comparison = await context.newPage();
  await comparison.goto(new URL("/comparison", address).href);
  assert.ok((await comparison.locator("h1").textContent()).length > 10, "the class's comparison");
  page.on("dialog", (dialog) => dialog.accept());
  const noClip = page.locator("details.run").nth(1);
  await noClip.locator("summary").click();
  await noClip.locator("button", { hasText: "Delete" }).click();
  await page.waitForFunction(() => document.querySelectorAll("details.run").length === 2);
  assert.deepEqual(complaints, []);
};

if (pictures) mkdirSync(pictures, { recursive: true });
const { station, pupils, code, coach: coachAddress } = await start();
station.removeAllListeners("exit");
const browser = await browserType.launch({ executablePath: chromium, args: ["--no-sandbox", "--disable-dev-shm-usage"] });
try {
  const phone = await browser.newContext({ ...PHONE, bypassCSP: true });
  const page = await phone.newPage();
  const complaints = watch(page);
  await pupil(page, pupils, code);
  await noClip(page);
  await shown(page);
  assert.deepEqual(complaints.filter((one) => !one.includes("403") && !one.includes("422")), []);
  console.error("browser test: station, phone good");
  await coach(await browser.newContext({ viewport: { width: 1280, height: 800 }, bypassCSP: true }), coachAddress);
  console.error("browser test: station, coach and board good");
} finally {
  await browser.close();
  station.kill("SIGINT");
  await new Promise((done) => { station.exitCode === null ? station.on("exit", done) : done(); });
  rmSync(out, { recursive: true, force: true });
}
