// The README's two pictures of the set-up page: node readme_pictures.mjs GRIPLINE REPOSITORY WORKPLACE CHROMIUM
//
// All four are whole paths; WORKPLACE is where scripts/browser_test/check has put the npm packages. The demo's clip with
// its own sheet; the pictures go into fixtures/pictures with few colours (ffmpeg), so that the repository stays small.
import { execFileSync, spawn } from "node:child_process";
import { copyFileSync, mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";

const [gripline, repository, workplace, chromium] = process.argv.slice(2);
const { chromium: browserType } = createRequire(join(workplace, "package.json"))("playwright-core");
const FRAME = 60;
const FEW_COLOURS = "split[a][b];[a]palettegen=max_colors=160[p];[b][p]paletteuse=dither=none";

const home = mkdtempSync(join(tmpdir(), "pictures-"));
const sheet = join(home, "run.toml");
copyFileSync(join(repository, "fixtures", "demo", "run.toml"), sheet);
const words = ["setup", join(repository, "fixtures", "demo", "clip.mp4"), "--sheet", sheet, "--no-browser"];
const child = spawn(gripline, words, { stdio: ["ignore", "pipe", "inherit"] });

const address = async () => {
  let said = "";
  for await (const piece of child.stdout) {
    said += piece;
    const found = said.match(/http:\S+/);
    if (found) return found[0];
  }
  throw new Error(`no address: ${said}`);
};

const kept = (name, raw) => execFileSync("ffmpeg", ["-v", "error", "-y", "-i", raw, "-vf", FEW_COLOURS, "-frames:v", "1", "-update", "1", join(repository, "fixtures", "pictures", name)]);

const browser = await browserType.launch({ executablePath: chromium, args: ["--no-sandbox", "--disable-dev-shm-usage"] });
try {
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, deviceScaleFactor: 0.8, reducedMotion: "reduce" });
  const page = await context.newPage();
  page.setDefaultTimeout(120_000);
  await page.goto(await address());
  await page.waitForFunction(() => document.querySelector("#drawn .aim.upper"));
  await page.locator("#slider").fill(String(FRAME));
  await page.waitForFunction((frame) => document.getElementById("frame").alt.startsWith(`Frame ${frame} `) && document.getElementById("frame").complete, FRAME);
  await page.locator("#slider").blur();
  await page.waitForTimeout(1500);
  const raw = join(home, "raw.png");
  await page.screenshot({ path: raw });
  kept("setup-marks.png", raw);

  await page.setViewportSize({ width: 1280, height: 1200 });
  await page.locator("[data-field='sticker.height_mm']").first().focus();
  await page.locator("#sizes").evaluate((section) => section.scrollIntoView({ block: "start", behavior: "instant" }));
  const { x, y, width } = await page.locator("#sizes").boundingBox();
  const five = await page.locator("#five").boundingBox();
  await page.screenshot({ path: raw, clip: { x: x - 12, y, width: width + 24, height: five.y + five.height - y + 8 } });
  kept("setup-sizes.png", raw);
} finally {
  await browser.close();
  child.kill();
  rmSync(home, { recursive: true, force: true });
}
