// The picture of the whole run on the report, the large view, the poster's page and the worksheet, in a real browser.
import assert from "node:assert/strict";

// Clips with a gap to show, with a curve and no gap, and with a camera in a hand.
const RUNS = ["demo", "veer", "hand-held"];

// A letter is seen well from 8 m where it is 22 minutes of arc high (ISO 9241-303, from memory): 51 mm, 3.4 % of a picture
// that is 1.5 m high. Capitals are about 0.7 of the em.
const LEAST_EM = 0.034 / 0.7;

const sound = async (page, axe, name) => {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document));
  const serious = violations.filter((one) => ["serious", "critical"].includes(one.impact));
  assert.deepEqual(serious.map((one) => `${one.id}: ${one.help}: ${one.nodes[0]?.html}`), [], name);
};

const whole = async (page, name) => {
  const found = await page.evaluate(() => {
    const box = (element) => element.getBoundingClientRect();
    const picture = document.querySelector(".whole img");
    return {
      wide: box(picture).width / box(document.querySelector(".sheet")).width,
      drawn: picture.naturalWidth,
      below: box(document.querySelector(".whole figcaption")).top - box(picture).bottom,
      next: box(document.querySelector("#charts")).top - box(document.querySelector(".whole")).bottom,
    };
  });
  assert.ok(found.wide > 0.98, `${name}: the picture takes the page's width: ${found.wide}`);
  assert.ok(found.drawn >= 1200, `${name}: ${found.drawn} px`);
  assert.ok(found.below >= 0 && found.next >= 0, `${name}: the picture covers nothing: ${JSON.stringify(found)}`);
};

const large = async (browser, run, axe, name, open) => {
  for (const colorScheme of ["light", "dark"]) {
    const viewport = { width: 1280, height: 800 };
    const { context, page, complaints } = await open(browser, run, { viewport, colorScheme, bypassCSP: true });
    await page.locator(".to-big").click();
    const found = await page.evaluate(() => {
      const dialog = document.querySelector("dialog.big");
      const em = (element) => parseFloat(getComputedStyle(element).fontSize);
      const words = [...dialog.querySelectorAll("h2, p")].filter((one) => one.textContent.trim() !== "");
      const lengths = dialog.querySelector("svg");
      const scale = lengths ? lengths.getBoundingClientRect().width / lengths.viewBox.baseVal.width : null;
      return {
        open: dialog.open,
        least: Math.min(...words.map(em)),
        drawn: lengths ? 36 * scale : null,
        picture: dialog.querySelector("img")?.naturalWidth,
        over: dialog.scrollHeight - dialog.clientHeight,
      };
    });
    assert.ok(found.open, `${name}: the large view opens`);
    assert.ok(found.least >= LEAST_EM * 800 * 0.8, `${name}: ${found.least} px of 800`);
    assert.ok(found.picture > 1000 || found.drawn >= LEAST_EM * 800, `${name}: ${JSON.stringify(found)}`);
    assert.ok(found.over <= 1, `${name}: nothing to scroll to on a wall: ${found.over} px`);
    await sound(page, axe, `${name}, large, ${colorScheme}`);
    await page.keyboard.press("Escape");
    assert.ok(!(await page.locator("dialog.big").isVisible()), `${name}: and closes`);
    assert.deepEqual(complaints, [], name);
    await context.close();
  }
};

const printed = async (browser, run, file, sheets, { open, pages, axe }, name) => {
  const url = new URL(file, run.url).href;
  for (const width of [390, 1280]) {
    const options = { viewport: { width, height: 800 }, bypassCSP: true };
    const { context, page, complaints } = await open(browser, { ...run, url }, options);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(wide <= width, `${name}: ${wide} px wide in ${width}`);
    await sound(page, axe, `${name}, ${width} px`);
    const pdf = await page.pdf({ format: "A4", preferCSSPageSize: true });
    assert.equal(pages(pdf), sheets, `${name}: sheets of paper`);
    assert.deepEqual(complaints, [], name);
    await context.close();
  }
};

export const pictures = async (browser, tools) => {
  for (const name of RUNS) {
    const run = tools.measure(name);
    const { context, page } = await tools.open(browser, run);
    await whole(page, name);
    await context.close();
    await large(browser, run, tools.axe, name, tools.open);
    await printed(browser, run, "poster.html", 1, tools, `${name}: poster`);
    await printed(browser, run, "worksheet.html", 2, tools, `${name}: worksheet`);
  }
};
