// Numbers on the axes of a drawn chart, and the line through two of them.

// Runs in the page: all texts of a chart that are numbers, with their places.
export const ticksOf = (svg) => [...svg.querySelectorAll("text")].map((text) => ({
  said: text.textContent.trim().replace("\u2212", "-"),
  x: Number(text.getAttribute("x")),
  y: Number(text.getAttribute("y")),
  anchor: text.getAttribute("text-anchor"),
})).filter((tick) => /^-?\d+(\.\d+)?$/.test(tick.said));

// The straight line through two points, as a function.
export const through = ([a, b], [c, d]) => (x) => b + (x - a) * (d - b) / (c - a);
