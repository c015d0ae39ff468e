// Small helpers for making and finding elements. No text of a user is ever read as HTML.

export const byId = (id) => document.getElementById(id);

const SVG = "http://www.w3.org/2000/svg";
const SVG_TAGS = new Set(["svg", "path", "circle", "rect", "polyline", "g", "text"]);

// make("p", { class: "fine", onclick: f }, "text", otherElement)
export const make = (tag, properties = {}, ...children) => {
  const svg = SVG_TAGS.has(tag);
  const element = svg ? document.createElementNS(SVG, tag) : document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (!svg && name in element && name !== "list") element[name === "class" ? "className" : name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  if (!svg && properties.class) element.className = properties.class;
  element.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return element;
};

export const fill = (element, ...children) => element.replaceChildren(...children.filter(Boolean));

// A choice with its options as [value, words].
export const choice = (options, value, words, onchange) => {
  const select = make("select", { onchange: () => onchange(select.value) }, ...options.map(([own, text]) => make("option", { value: own }, text)));
  select.setAttribute("aria-label", words);
  select.value = value;
  return select;
};
