// The set-up page in a real browser: node setup_page.mjs GRIPLINE REPOSITORY WORKPLACE CHROMIUM
//
// From a clip to a written sheet to a verdict, once by pointer from nothing and once by keyboard alone with a
// sheet that is there. On the way: nothing is fetched from elsewhere and nothing complains; marks can be
// dragged, moved by arrow keys and pointed at; wrong numbers are told beside their field; the page fits a
// phone's width, where rings and numbers of floor marks stand apart and each mark can be tapped; the line to follow
// can be pointed at; a second mark on the wheel and a second phone's clip have their place; every change can be taken back; marks of the kit have the names that are printed on it; the report
// stands below the picture, and progress and verdict are brought before the eyes; axe-core (rules of WCAG 2.2) finds
// nothing serious, light or dark.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const [gripline, repository, workplace, chromium] = process.argv.slice(2);
const require = createRequire(join(workplace, "package.json"));
const { chromium: browserType } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const RUN = join(repository, "fixtures", "spin-out");
// A clip of the printed kit, its six floor marks on the kit's plan.
const KIT_RUN = join(repository, "fixtures", "kit-beside");
const SHEET = readFileSync(join(RUN, "run.toml"), "utf8");
const PATIENCE_MS = 60_000;

// A key's number in the kept sheet.
const kept = (table, key) => SHEET.split(`[${table}]`)[1].match(new RegExp(`^${key} = "?([^"\n]+)`, "m"))[1];
const floorMarks = SHEET.split("[[floor_mark]]").slice(1).map((part) => ["x_mm", "y_mm"].map((key) => Number(part.match(new RegExp(`${key} = (\\S+)`))[1])));

const children = [];

const start = async (home, sheet, run = RUN, endRun = null) => {
  const second = endRun ? ["--end-view", join(endRun, "clip.mp4")] : [];
  const words = ["setup", join(run, "clip.mp4"), ...second, "--sheet", sheet, "--out", join(home, "results"), "--no-browser"];
  const child = spawn(gripline, words, { stdio: ["ignore", "pipe", "inherit"] });
  children.push(child);
  const ended = new Promise((done) => { child.on("exit", done); });
  let said = "";
  for await (const piece of child.stdout) {
    said += piece;
    const address = said.match(/http:\S+/);
    if (address) return { child, ended, address: address[0] };
  }
  throw new Error(`no address: ${said}`);
};

const open = async (browser, address) => {
  const context = await browser.newContext({ viewport: { width: 1440, height: 1000 }, bypassCSP: true });
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  const complaints = [];
  const own = new URL(address).origin;
  page.on("console", (message) => {
    // The browser notes that a sheet was refused, which this test asks for.
    const refused = message.text().includes("status of 422");
    if (["error", "warning"].includes(message.type()) && !refused) complaints.push(message.text());
  });
  page.on("pageerror", (error) => complaints.push(String(error)));
  page.on("request", (request) => {
    if (!request.url().startsWith(own) && !request.url().startsWith("data:")) complaints.push(`fetches ${request.url()}`);
  });
  await page.goto(address);
  await page.locator("#all").waitFor({ state: "visible" });
  assert.equal(page.url(), `${own}/`, "the secret has left the address");
  return { context, page, complaints };
};

// Nearest row first in the picture: a mark on the camera's side of the aim line lies lower.
const inOrder = async (page) => {
  const pins = await page.evaluate(() => [...document.querySelectorAll(".pin.floor_mark")].map((pin) => ({
    row: Number(pin.getAttribute("aria-label").match(/F(\d+)/)[1]) - 1, u: parseFloat(pin.style.left), v: parseFloat(pin.style.top),
  })));
  assert.equal(pins.length, floorMarks.length, "every floor mark is proposed");
  const ys = [...new Set(floorMarks.map(([, y]) => y))].sort((a, b) => a - b);
  const byRow = [...pins].sort((a, b) => b.v - a.v);
  return ys.flatMap((y) => {
    const marks = floorMarks.filter((mark) => mark[1] === y).sort((a, b) => a[0] - b[0]);
    const own = byRow.splice(0, marks.length).sort((a, b) => a.u - b.u);
    return marks.map((mark, index) => ({ mark, row: own[index].row }));
  });
};

const SIZES = [["car", "wheel_diameter_mm"], ["car", "wheelbase_mm"], ["car", "track_width_mm"], ["car", "axle_diameter_mm"], ["car", "string_mm"], ["car", "string_diameter_mm"],
  ["sticker", "height_mm"], ["sticker", "ahead_mm"], ["sticker", "off_centre_mm"], ["wheel_mark", "radius_mm"], ["car", "name"]];

const expectWords = (page, selector, words) => page.waitForFunction(([where, what]) => document.querySelector(where)?.textContent.includes(what), [selector, words]);

const accessible = async (page, name) => {
  for (const [width, colorScheme] of [[390, "light"], [390, "dark"], [1440, "dark"], [1440, "light"]]) {
    await page.setViewportSize({ width, height: 1000 });
    await page.emulateMedia({ colorScheme });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(wide <= width, `${name}: ${wide} px wide in ${width}`);
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => globalThis.axe.run(document, { iframes: false }));
    const serious = violations.filter((one) => ["serious", "critical"].includes(one.impact));
    assert.deepEqual(serious.map((one) => `${one.id}: ${one.help}: ${one.nodes[0]?.html}`), [], `${name}, ${colorScheme}, ${width} px`);
  }
};

const SIZES_OF_SCREENS = [{ width: 1280, height: 800 }, { width: 390, height: 844 }];

// Whether two boxes of the screen share more than a hair's breadth.
const overlap = (a, b) => a.x + 0.5 < b.x + b.width && b.x + 0.5 < a.x + a.width && a.y + 0.5 < b.y + b.height && b.y + 0.5 < a.y + a.height;

// Rings and numbers of the floor marks stand apart from each other.
const marksApart = async (page) => {
  for (const size of SIZES_OF_SCREENS) {
    await page.setViewportSize(size);
    // One frame for the new width, one for what is laid out by it.
    await page.evaluate(() => new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(() => requestAnimationFrame(done))); }));
    const boxes = await page.evaluate(() => [...document.querySelectorAll(".pin.floor_mark .shape, .pin.floor_mark .number")].map((own) => {
      const { x, y, width, height } = own.getBoundingClientRect();
      return { x, y, width, height, what: `${own.tagName} of ${own.parentElement.getAttribute("aria-label")}` };
    }));
    assert.equal(boxes.length, 2 * floorMarks.length, "a ring and a number each");
    for (const [index, a] of boxes.entries()) {
      for (const b of boxes.slice(index + 1)) assert.ok(!overlap(a, b), `${size.width} px: ${a.what} lies over ${b.what}`);
    }
  }
};

// Wherever one scrolls to, the picture does not lie over the report, which is as wide as the page.
const reportUncovered = async (page) => {
  for (const size of SIZES_OF_SCREENS) {
    await page.setViewportSize(size);
    for (const block of ["start", "center", "end"]) {
      const seen = await page.evaluate((where) => {
        document.querySelector("iframe").scrollIntoView({ block: where, behavior: "instant" });
        const box = (selector) => {
          const { x, y, width, height } = document.querySelector(selector).getBoundingClientRect();
          return { x, y, width, height };
        };
        return { report: box("iframe"), picture: box(".picture"), page: box("main") };
      }, block);
      const name = `${size.width} px, scrolled to the ${block} of the report`;
      assert.ok(seen.report.height > 300 && seen.picture.height > 100, `${name}: both are there`);
      assert.ok(!overlap(seen.report, seen.picture), `${name}: the picture lies over the report: ${JSON.stringify(seen)}`);
      assert.ok(Math.abs(seen.report.width - seen.page.width) < 2, `${name}: the report is ${seen.report.width} px wide`);
    }
  }
};

// What can be tapped in the picture is 24 px wide (WCAG 2.2, success criterion 2.5.8), and a tap in the middle of a
// mark meets that mark and no other.
const tapped = async (page) => {
  await page.setViewportSize({ width: 390, height: 844 });
  await page.evaluate(() => new Promise((done) => { setTimeout(done, 300); }));
  const pins = await page.evaluate(() => [...document.querySelectorAll(".pin:not(.other)")].map((pin) => {
    pin.scrollIntoView({ block: "center", inline: "center", behavior: "instant" });
    const { x, y, width, height } = pin.getBoundingClientRect();
    const met = document.elementFromPoint(x + width / 2, y + height / 2)?.closest(".pin");
    return { what: pin.getAttribute("aria-label"), width, height, met: met === pin };
  }));
  for (const pin of pins) {
    assert.ok(Math.min(pin.width, pin.height) >= 24, `${pin.what}: ${pin.width} px by ${pin.height} px`);
    assert.ok(pin.met, `${pin.what} is met by a tap on it`);
  }
  const rings = await page.evaluate(() => [...document.querySelectorAll(".pin:not(.other) .shape")].map((own) => {
    const { x, y, width, height } = own.getBoundingClientRect();
    return { x, y, width, height, what: own.parentElement.getAttribute("aria-label") };
  }));
  for (const [index, a] of rings.entries()) {
    for (const b of rings.slice(index + 1)) assert.ok(!overlap(a, b), `the rings of ${a.what} and ${b.what} overlap`);
  }
};

const focused = (page, id) => page.waitForFunction((where) => document.activeElement?.id === where, id);

const drag = async (page, pin, by) => {
  const box = await page.locator(pin).boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + by / 2, y, { steps: 2 });
  await page.mouse.move(x + by, y, { steps: 2 });
  await page.mouse.up();
};

const byPointer = async (browser, home) => {
  const sheet = join(home, "new.toml");
  const { ended, address } = await start(home, sheet);
  const { context, page, complaints } = await open(browser, address);
  const again = await fetch(address);
  assert.equal(again.status, 403, "the address opens once");
  const roles = await page.evaluate(() => [...document.querySelectorAll("#patches .role[aria-pressed=true]")].map((button) => button.dataset.role));
  for (const role of ["sticker", "wheel_mark"]) assert.equal(roles.filter((own) => own === role).length, 1, role);
  await accessible(page, "as proposed");
  await marksApart(page);
  await tapped(page);
  await page.setViewportSize({ width: 1440, height: 1000 });

  for (const { mark, row } of await inOrder(page)) {
    for (const [axis, key] of ["x_mm", "y_mm"].entries()) {
      await page.locator(`#floor-rows [data-field="floor_mark.${row}.${key}"]`).click();
      await page.keyboard.type(String(mark[axis]));
    }
  }
  // The camera is placed by now, and nothing is held against sizes that nobody typed.
  await expectWords(page, "#fit-0", "fits:");
  await expectWords(page, "#follows-words", "goes round at");
  assert.doesNotMatch(await page.locator("#follows-words").textContent(), /your sizes/);
  assert.equal(await page.locator("#drawn .rim").count(), 0, "no ring without sizes");
  const type = async (table, key, text) => {
    const box = page.locator(`.fields [data-field="${table}.${key}"]`);
    await box.click();
    await box.fill(text);
  };
  // Metres by mistake are told beside the field, and nothing is written.
  await type("car", "wheel_diameter_mm", "0,1");
  await expectWords(page, ".fields label:has([data-field='car.wheel_diameter_mm']) .fault", "looks like metres");
  await page.locator("#save").click();
  await expectWords(page, "#saved", "Not saved");
  for (const [table, key] of SIZES) await type(table, key, kept(table, key));
  await page.locator("[data-field='car.facing_side']").selectOption(kept("car", "facing_side"));
  assert.equal(await page.locator("#aim-x").isChecked(), false, "nothing is said of the aim yet");
  await page.locator("#aim-points").click();
  await page.locator("#aim-x").click();
  // A size that was typed is taken back as one step, and done again; in a text field the keys belong to the field.
  const height = page.locator(".fields [data-field='sticker.height_mm']");
  await height.click();
  await height.fill("123");
  await page.locator("#take-back").click();
  assert.equal(await height.inputValue(), kept("sticker", "height_mm"), "the size is back");
  await page.locator("#slider").focus();
  await page.keyboard.press("Control+Shift+z");
  assert.equal(await height.inputValue(), "123", "and forward");
  await page.keyboard.press("Control+z");
  assert.equal(await height.inputValue(), kept("sticker", "height_mm"), "and back");
  await pointedAim(page);
  await expectWords(page, "#next", "Nothing is missing");
  await expectWords(page, "#follows-words", "of where your sizes put the hub");
  await expectWords(page, "#fit-0", "fits:");
  assert.ok(await page.locator("#drawn .floor.upper").count() > 8, "the floor's lines are drawn");
  assert.equal(await page.locator("#drawn .mark_circle.upper").count(), 1, "and the circle of the wheel mark");

  // A mark that is dragged off its patch is not used; dragged back it fits again.
  await page.evaluate(() => scrollTo(0, 0));
  await drag(page, ".pin.floor_mark >> nth=0", 90);
  await expectWords(page, "#fit-0", "not used");
  await drag(page, ".pin.floor_mark >> nth=0", -90);
  await expectWords(page, "#fit-0", "fits:");
  // A drag is taken back too.
  await drag(page, ".pin.floor_mark >> nth=0", 90);
  await expectWords(page, "#fit-0", "not used");
  await page.locator("#take-back").click();
  await expectWords(page, "#fit-0", "fits:");
  await accessible(page, "filled in");

  await page.locator("#save").click();
  await expectWords(page, "#saved", "fits other clips");
  const written = readFileSync(sheet, "utf8");
  for (const [table, key] of SIZES) assert.ok(written.includes(`${key} = `), `${table}.${key} in\n${written}`);
  assert.ok(!written.includes("at_px"), "places that make no difference are not kept");
  await page.locator("#measure").click();
  await focused(page, "measured");
  await page.locator(".verdict").waitFor();
  await focused(page, "result");
  assert.match(await page.locator(".verdict").textContent(), /grip/);
  const report = page.frameLocator("iframe");
  await report.locator("h1").waitFor();
  assert.match(await report.locator("h1").textContent(), /spun/);
  await reportUncovered(page);
  await accessible(page, "with the report");
  await page.locator("#done").click();
  await page.locator("#over").waitFor({ state: "visible" });
  assert.equal(await ended, 0, "the program has ended");
  assert.deepEqual(complaints, []);
  await context.close();
};

// The tab key until something is reached; no pointer, no focus by script.
const tabTo = async (page, selector) => {
  for (let presses = 0; presses < 300; presses += 1) {
    if (await page.evaluate((where) => document.activeElement?.matches(where), selector)) return;
    await page.keyboard.press("Tab");
  }
  assert.fail(`the tab key does not reach ${selector}`);
};

const byKeyboard = async (browser, home) => {
  const sheet = join(home, "old.toml");
  const old = `# Thursday's car\n${SHEET.replace(/^wheel_diameter_mm.*\n/m, "").replace(/^height_mm = .*$/m, "height_mm = 1.0 # to be measured")}`;
  writeFileSync(sheet, old);
  const { ended, address } = await start(home, sheet);
  const { context, page, complaints } = await open(browser, address);

  await tabTo(page, "#slider");
  await page.keyboard.press("Home");
  for (let presses = 0; presses < 3; presses += 1) await page.keyboard.press("ArrowRight");
  await expectWords(page, "#where", "Frame 3 ");

  // Point at something that is none of ours, then think better of it.
  await tabTo(page, "#point");
  await page.keyboard.press("Enter");
  for (let presses = 0; presses < 4; presses += 1) await page.keyboard.press("Shift+ArrowUp");
  await page.keyboard.press("Enter");
  await expectWords(page, "#chosen", "pointed at by you");
  await tabTo(page, "#chosen .role[data-role=floor_mark]");
  await page.keyboard.press("Enter");
  await expectWords(page, "#chosen", `Floor mark F${floorMarks.length + 1}`);
  await tabTo(page, "#chosen .out");
  await page.keyboard.press("Enter");
  const rows = (count) => page.waitForFunction((wanted) => document.querySelectorAll("#floor-rows > li").length === wanted, count);
  await rows(floorMarks.length);

  // Taken back step by step: the removal, what it was said to be, the pointing.
  await tabTo(page, "#take-back");
  await page.keyboard.press("Enter");
  await rows(floorMarks.length + 1);
  await page.keyboard.press("Enter");
  await rows(floorMarks.length);
  await expectWords(page, "#chosen", "pointed at by you");
  await page.keyboard.press("Enter");
  await expectWords(page, "#chosen", "Click a mark");
  await focused(page, "point");

  // A chosen mark moves by a pixel of the clip with each press.
  const label = "[aria-label^='floor mark F1;']";
  await tabTo(page, label);
  const left = () => page.locator(label).evaluate((pin) => parseFloat(pin.style.left));
  const before = await left();
  for (let presses = 0; presses < 5; presses += 1) await page.keyboard.press("ArrowRight");
  const width = await page.locator("#drawn").evaluate((svg) => svg.viewBox.baseVal.width);
  assert.ok(Math.abs(await left() - before - 500 / width) < 0.02, "five pixels to the right");

  // Round the page to the fields.
  await tabTo(page, "[data-field='car.wheel_diameter_mm']");
  await page.keyboard.type(kept("car", "wheel_diameter_mm"));
  await tabTo(page, ".fields [data-field='sticker.height_mm']");
  await expectWords(page, ".fields label:has([data-field='sticker.height_mm']) .fault", "looks like");
  await page.keyboard.press("Control+a");
  await page.keyboard.type(kept("sticker", "height_mm"));
  await expectWords(page, "#fit-0", "fits:");
  await tabTo(page, "#measure");
  await page.keyboard.press("Enter");
  await page.locator(".verdict").waitFor();
  assert.match(await page.locator(".verdict").textContent(), /grip/);
  const written = readFileSync(sheet, "utf8");
  assert.ok(written.startsWith("# Thursday's car\n") && written.includes("# to be measured"), written);
  await tabTo(page, "#done");
  await page.keyboard.press("Enter");
  await page.locator("#over").waitFor({ state: "visible" });
  assert.equal(await ended, 0, "the program has ended");
  assert.deepEqual(complaints, []);
  await context.close();
};

// Two floor marks that are pointed at in the picture are the ends of the line, to the millimetre of their own places;
// taken back, it leads straight down the track again.
const pointedAim = async (page) => {
  const aim = () => page.evaluate(() => ["from_x_mm", "from_y_mm", "to_x_mm", "to_y_mm"].map((key) => document.querySelector(`[data-field="aim.${key}"]`).value));
  const before = await aim();
  const ends = await page.evaluate(() => [0, 1].map((row) => ({
    name: document.querySelector(`#fit-${row}`).parentElement.querySelector(".badge b").textContent,
    place: ["x_mm", "y_mm"].map((key) => document.querySelector(`#floor-rows [data-field="floor_mark.${row}.${key}"]`).value),
  })));
  await expectWords(page, "#fit-0", "fits:");
  await page.locator("#point-aim").click();
  await page.locator(`[aria-label^='floor mark ${ends[0].name};']`).click();
  await expectWords(page, "#prompt", `floor mark ${ends[0].name}`);
  await page.locator(`[aria-label^='floor mark ${ends[1].name};']`).click();
  await expectWords(page, "#aim-told", "It is drawn in the picture");
  assert.deepEqual((await aim()).map(Number), ends.flatMap(({ place }) => place).map(Number));
  await page.waitForFunction(() => document.querySelector("#drawn .aim.upper"));
  await page.locator("#take-back").click();
  assert.deepEqual(await aim(), before, "the line is back");
};

const leave = async ({ page, context, complaints }, ended) => {
  await page.locator("#done").click();
  // The program ends, or asks whether what is not saved may go.
  await page.waitForFunction(() => !document.querySelector("#over").hidden || document.querySelector("#done").dataset.sure);
  if (await page.locator("#over").isHidden()) await page.locator("#done").click();
  await page.locator("#over").waitFor({ state: "visible" });
  assert.equal(await ended, 0, "the program has ended");
  assert.deepEqual(complaints, []);
  await context.close();
};

// On the kit's plan, marks have the names that are printed on the kit's sheets.
const asPrinted = async (browser, home) => {
  const { ended, address } = await start(home, join(home, "kit.toml"), KIT_RUN);
  const { context, page, complaints } = await open(browser, address);
  await expectWords(page, "#fit-0", "fits:");
  // Page 4 of the kit: 1 and 2 to the right of the line, 3 and 4 to its left, 5 and 6 half-way.
  const printed = { F1: [0, -300], F2: [2000, -300], F3: [2000, 300], F4: [0, 300], F5: [1000, -300], F6: [1000, 300] };
  const rows = () => page.evaluate(() => Object.fromEntries([...document.querySelectorAll("#floor-rows > li")].map((row) => [
    row.querySelector(".badge b").textContent, [...row.querySelectorAll("input")].map((input) => Number(input.value)),
  ])));
  assert.deepEqual(await rows(), printed);
  const letters = await page.evaluate(() => ["sticker", "wheel_mark"].map((role) => document.querySelector(`.pin.${role} .number`).textContent));
  assert.deepEqual(letters, ["A", "B"]);
  assert.deepEqual(await page.evaluate(() => [...document.querySelectorAll("#patches .badge b")].map((name) => name.textContent)), ["A", "B", "F1", "F2", "F3", "F4", "F5", "F6"]);
  await tapped(page);
  await accessible(page, "of the kit");
  await page.setViewportSize({ width: 1280, height: 800 });
  // The others keep their numbers when one goes; its own comes back with it.
  await page.locator("[aria-label='Remove floor mark F2']").click();
  const { F2, ...rest } = printed;
  assert.deepEqual(await rows(), rest);
  await page.locator("#kit-plan").click();
  assert.deepEqual(await rows(), printed);
  for (const left of [rest, printed]) {
    await page.locator("#take-back").click();
    assert.deepEqual(await rows(), left);
  }
  await expectWords(page, "#fit-0", "fits:");
  await leave({ page, context, complaints }, ended);
};

// A second mark on the wheel is one more button; the first may go, and the second is then the first.
const twoOnWheel = async (browser, home) => {
  const sheet = join(home, "two.toml");
  const run = join(repository, "fixtures", "two-on-wheel");
  const tables = readFileSync(join(run, "run.toml"), "utf8").split(/\n(?=\[)/);
  writeFileSync(sheet, tables.filter((table) => !table.startsWith("[[wheel_mark]]")).join("\n"));
  const { ended, address } = await start(home, sheet, run);
  const opened = await open(browser, address);
  const { page } = opened;
  const names = () => page.evaluate(() => [...document.querySelectorAll("#patches .badge b")].map((name) => name.textContent));
  const colours = () => page.evaluate(() => [...document.querySelectorAll("#patches li.is-mark select")].slice(1, 3).map((own) => own.value));
  const [first, other] = ["green", "yellow"];
  const answer = (colour, role) => page.locator("#patches li", { hasText: `${colour}goes round` }).locator(`[data-role=${role}]`).click();
  await answer(first, "wheel_mark");
  await expectWords(page, "#follows-words", "wheel mark B in");
  await answer(other, "more_wheel_marks");
  await expectWords(page, "#follows-words", "wheel mark B2 in");
  assert.deepEqual((await names()).slice(0, 3), ["A", "B", "B2"]);
  await page.locator("#save").click();
  await expectWords(page, "#saved", "Saved");
  const wheelMarks = () => readFileSync(sheet, "utf8").split("[[wheel_mark]]").slice(1).map((part) => part.match(/colour = "(\w+)"/)[1]);
  assert.deepEqual(wheelMarks(), [first, other]);
  await accessible(page, "two marks on a wheel");
  await page.locator("[aria-label='Show B in the picture']").click();
  await page.locator("#chosen .out").click();
  assert.deepEqual((await names()).slice(0, 2), ["A", "B"]);
  assert.equal((await colours())[0], other, "the second is now the first");
  await page.locator("#save").click();
  await expectWords(page, "#saved", "Saved");
  assert.deepEqual(wheelMarks(), [other]);
  await leave(opened, ended);
};

// The second phone's clip is seen on the page, its sticker is said there, and both are measured together.
const twoPhones = async (browser, home) => {
  const sheet = join(home, "pair.toml");
  const kept = readFileSync(join(repository, "fixtures", "pair-side", "run.toml"), "utf8");
  writeFileSync(sheet, kept.split("[end_view]")[0]);
  const [side, end] = ["pair-side", "pair-end"].map((name) => join(repository, "fixtures", name));
  const { ended, address } = await start(home, sheet, side, end);
  const opened = await open(browser, address);
  const { page } = opened;
  await expectWords(page, "#end-told", "of the second clip");
  await page.locator("#end-pins .pin.sticker").waitFor();
  await page.waitForFunction(() => document.querySelector("#end-frame").naturalWidth > 0);
  await page.locator("[data-field='end_view.height_mm']").fill("0.135");
  await expectWords(page, "label:has([data-field='end_view.height_mm']) .fault", "looks like metres");
  await page.locator("#end-patches .role").first().click();
  for (const [key, text] of [["height_mm", "135"], ["ahead_mm", "-12"], ["off_centre_mm", "0"]]) await page.locator(`[data-field='end_view.${key}']`).fill(text);
  await expectWords(page, "#end-told", "floor marks show where the camera stood");
  await accessible(page, "two phones");
  await page.locator("#measure").click();
  await page.locator(".verdict").waitFor();
  const written = readFileSync(sheet, "utf8").split("[end_view]")[1];
  for (const line of ['colour = "magenta"', "height_mm = 135.0", "ahead_mm = -12.0", "off_centre_mm = 0.0"]) assert.ok(written.includes(line), `${line} is not in ${written}`);
  const summary = JSON.parse(readFileSync(join(home, "results", "clip", "summary.json"), "utf8"));
  assert.ok(summary.end_view?.aligned_by, "both clips were measured together");
  await leave(opened, ended);
};

const home = join(workplace, "setup");
rmSync(home, { recursive: true, force: true });
const browser = await browserType.launch({
  executablePath: chromium,
  // A browser does not sandbox itself for the superuser, and containers have a small /dev/shm.
  args: ["--no-sandbox", "--disable-dev-shm-usage"],
});
try {
  for (const [name, run] of [["pointer", byPointer], ["keyboard", byKeyboard], ["kit", asPrinted], ["two marks on a wheel", twoOnWheel], ["two phones", twoPhones]]) {
    mkdirSync(join(home, name), { recursive: true });
    await run(browser, join(home, name));
    console.error(`browser test: set-up by ${name} good`);
  }
} finally {
  // A test that failed leaves its server behind; one that ended is not there any more.
  for (const child of children) child.kill();
  await browser.close();
  rmSync(home, { recursive: true, force: true });
}
