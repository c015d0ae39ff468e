// Begins the page: waits until the tool has looked through the clip, then fills in what it proposes.
import { beginAim } from "./aim.js";
import { byId, fill } from "./dom.js";
import { beginEndView } from "./end_view.js";
import { beginFinish } from "./finish.js";
import { beginFloor } from "./floor.js";
import { beginFollows, tellTrouble } from "./follows.js";
import { beginMarks } from "./marks.js";
import { beginPicture, goTo } from "./picture.js";
import { ask, pause } from "./server.js";
import { beginSizes } from "./sizes.js";
import { state } from "./state.js";
import { firstFrame } from "./zoom.js";

const LOOK_MS = 200;

// The address holds the secret that opened the page; it has been used up.
history.replaceState(null, "", "/");

const looked = async () => {
  for (;;) {
    const said = await ask("/standing");
    if (!said.ok) return said;
    fill(byId("clip-name"), said.clip);
    document.title = `Set-up of ${said.clip} - Gripline`;
    const { looking, end } = said;
    if (looking.state === "failed") return { ok: false, ...looking };
    // What is wrong with the second clip is told where that is asked about.
    if (looking.state === "done" && end?.looking.state !== "running") return said;
    if (looking.state !== "done") fill(byId("next"), `Looking through the clip for marks: frame ${looking.done}${looking.expected ? ` of ${looking.expected}` : ""}`);
    else fill(byId("next"), "Looking through the second clip \u2026");
    if (looking.expected) byId("looking").value = Math.min(1, looking.done / looking.expected);
    await pause(LOOK_MS);
  }
};

const begin = async () => {
  const standing = await looked();
  byId("looking").hidden = true;
  const found = standing.ok ? await ask("/patches") : standing;
  const sheet = found.ok ? await ask("/sheet") : found;
  if (!sheet.ok) {
    fill(byId("next"), "");
    tellTrouble(sheet);
    return;
  }
  Object.assign(state, {
    draft: sheet.draft, patches: found.patches, times: found.times_s, colours: found.colours, kit: found.kit,
    width: found.width_px, height: found.height_px, unsaved: !sheet.exists,
  });
  byId("all").hidden = false;
  beginPicture();
  beginSizes();
  beginAim();
  beginMarks(sheet.exists ? found.damage : [...found.doubts, ...found.damage]);
  beginFloor();
  beginFinish(standing);
  beginEndView(standing);
  goTo(firstFrame());
  beginFollows();
};

begin();
