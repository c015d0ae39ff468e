// The line that the car was to follow: straight down the track, between two points that are typed, or pointed at.
import { byId, fill } from "./dom.js";
import { outgoing } from "./follows.js";
import { remember } from "./history.js";
import { pointAt } from "./picture.js";
import { tell } from "./server.js";
import { changed, state, textOf } from "./state.js";

const AIM = ["aim.from_x_mm", "aim.from_y_mm", "aim.to_x_mm", "aim.to_y_mm"];

// Along x: from the start to the farthest floor mark, or two metres.
const alongX = () => {
  const far = Math.max(0, ...state.draft.floor_marks.map((mark) => Number(mark.texts.x_mm.replace(",", "."))).filter(Number.isFinite));
  return ["0", "0", String(far >= 500 ? far : 2000), "0"];
};

const aimIsX = () => Number(textOf(AIM[1]) || "0") === 0 && Number(textOf(AIM[3]) || "0") === 0;

export const showAim = () => {
  const said = AIM.some((field) => textOf(field));
  byId("aim-x").checked = said && aimIsX();
  byId("aim-points").checked = said && !aimIsX();
  byId("aim-fields").hidden = !said || aimIsX();
};

const setAim = (texts) => {
  remember();
  texts.forEach((text, index) => { state.draft.aim.texts[AIM[index].split(".")[1]] = String(text); });
  showAim();
  changed("marks");
};

const say = (...words) => fill(byId("aim-told"), ...words);

// The spot of the floor at a place in the picture; told why there is none.
const spotAt = async (place) => {
  const spot = await tell("/floor", { draft: outgoing(), frame: state.frame, place_px: place });
  if (!spot.ok) say(`${spot.says}: ${spot.hint}.`);
  return spot.ok ? spot : null;
};

const called = ({ x_mm: x, y_mm: y, mark }) => (mark ? `floor mark ${mark}` : `x ${x}, y ${y} mm`);

const point = () => {
  const button = byId("point-aim");
  if (state.pointing?.button === button) { state.pointing.done(null); return; }
  if (!state.follows?.preview?.sideways) {
    say("First point out four floor marks and type their places. Then gripline knows which spot of the floor a place in the picture is.");
    return;
  }
  say();
  byId("window").scrollIntoView({ block: "nearest" });
  pointAt(button, "Where does the line start? A spot of the floor, or a floor mark.", async (first) => {
    const from = await spotAt(first);
    if (!from) { button.focus(); return; }
    pointAt(button, `It starts at ${called(from)}. Where does it lead?`, async (second) => {
      const to = await spotAt(second);
      button.focus();
      if (!to) return;
      setAim([from.x_mm, from.y_mm, to.x_mm, to.y_mm]);
      say(`The line leads from ${called(from)} to ${called(to)}. It is drawn in the picture.`);
    }, true);
  }, true);
};

export const beginAim = () => {
  byId("aim-x").addEventListener("change", () => setAim(alongX()));
  byId("aim-points").addEventListener("change", () => { byId("aim-fields").hidden = false; });
  byId("point-aim").addEventListener("click", point);
  showAim();
};
