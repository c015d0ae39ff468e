// Reading-off for the charts; the page is complete without it.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("readings").textContent);
  const plots = [];
  // Paper has no folds to open.
  const folds = [...document.querySelectorAll("details.fold")];
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = folds.filter((fold) => !fold.open);
    for (const fold of opened) fold.open = true;
  });
  addEventListener("afterprint", () => {
    for (const fold of opened) fold.open = false;
  });
  const big = document.querySelector("dialog.big");
  const toBig = document.querySelector(".to-big");
  toBig.hidden = false;
  toBig.addEventListener("click", () => {
    const place = big.querySelector(".big-picture:empty");
    if (place) place.append(document.querySelector(".whole img").cloneNode());
    big.showModal();
  });
  const film = document.querySelector("video");
  film?.addEventListener("error", () => {
    film.hidden = true;
    document.querySelector(".no-film").hidden = false;
  });
  const say = (value, digits) => value.toFixed(digits).replace("-", "\u2212"){% if t.marked(".") != "." %}.replace(".", "{{ t.marked(".") }}"){% endif %};
  const when = (frame) => data.times[frame] === null ? `{{ t.text("script-frame") }} ${frame}` : `${say(data.times[frame], 3)} s`;
  const make = (kind, className, parent) => {
    const element = document.createElement(kind);
    element.className = className;
    parent.append(element);
    return element;
  };

  const viewer = make("div", "viewer", document.body);
  viewer.hidden = true;
  viewer.setAttribute("aria-hidden", "true");
  const cell = data.film ? make("div", "cell", viewer) : null;
  if (cell) {
    cell.style.backgroundImage = `url(${data.film.image})`;
    cell.style.width = `${data.film.cell[0]}px`;
    cell.style.height = `${data.film.cell[1]}px`;
  }
  const words = make("table", "", viewer);

  const lines = (chart, frame) => chart.series.map((series) => {
    const value = series.values[frame];
    const unit = series.unit ? ` ${series.unit}` : "";
    if (value === null) return [series.name, "{{ t.text("script-not-seen") }}"];
    const ends = series.low[frame] === null ? "" :
      ` (${say(series.low[frame], series.digits)} {{ t.text("script-to") }} ${say(series.high[frame], series.digits)})`;
    return [series.name, `${say(value, series.digits)}${unit}${ends}`];
  });

  const nearestCell = (frame) => {
    let best = 0;
    data.film.frames.forEach((shown, place) => {
      if (Math.abs(shown - frame) < Math.abs(data.film.frames[best] - frame)) best = place;
    });
    return best;
  };

  const showFrame = (plot, frame) => {
    words.replaceChildren();
    const at = data.times[frame] === null ? ["{{ t.text("script-frame") }}", String(frame)] : ["{{ t.text("script-time") }}", `${when(frame)}, {{ t.text("script-frame") }} ${frame}`];
    const rows = [at, ...lines(plot.chart, frame)];
    for (const [name, text] of rows) {
      const row = words.insertRow();
      row.insertCell().textContent = name;
      row.insertCell().textContent = text;
    }
    if (cell) {
      const place = nearestCell(frame);
      const column = place % data.film.columns;
      const line = Math.floor(place / data.film.columns);
      cell.style.backgroundPosition = `${-column * data.film.cell[0]}px ${-line * data.film.cell[1]}px`;
      cell.dataset.frame = data.film.frames[place];
    }
    viewer.hidden = false;
  };

  const mark = (plot, frame) => {
    const { chart, cursor, dots, size } = plot;
    const [left, top, right, bottom] = chart.area;
    const x = chart.x[frame];
    const seen = x !== null && x >= chart.x_range[0] && x <= chart.x_range[1];
    cursor.hidden = !seen;
    const share = (x - chart.x_range[0]) / (chart.x_range[1] - chart.x_range[0]);
    const at = left + share * (right - left);
    cursor.style.left = `${100 * at / size[0]}%`;
    cursor.style.top = `${100 * top / size[1]}%`;
    cursor.style.height = `${100 * (bottom - top) / size[1]}%`;
    dots.forEach((dot, number) => {
      const value = chart.series[number].values[frame];
      dot.hidden = !seen || value === null;
      const up = (value - chart.y_range[0]) / (chart.y_range[1] - chart.y_range[0]);
      dot.style.left = `${100 * at / size[0]}%`;
      dot.style.top = `${100 * (bottom - Math.min(Math.max(up, 0), 1) * (bottom - top)) / size[1]}%`;
    });
  };

  const read = (plot, frame) => {
    for (const other of plots) {
      mark(other, frame);
      other.frame = frame;
    }
    showFrame(plot, frame);
    const text = lines(plot.chart, frame).map((line) => line.join(" ")).join(", ");
    plot.element.setAttribute("aria-valuenow", String(frame));
    plot.element.setAttribute("aria-valuetext", `${when(frame)}: ${text}`);
  };

  const leave = () => {
    viewer.hidden = true;
    for (const { cursor, dots } of plots) {
      cursor.hidden = true;
      for (const dot of dots) dot.hidden = true;
    }
  };

  const step = (plot, by) => {
    const { shown } = plot;
    const place = shown.indexOf(plot.frame);
    const from = place < 0 ? shown.findIndex((frame) => frame >= plot.frame) : place;
    const next = Math.min(Math.max((from < 0 ? shown.length - 1 : from) + by, 0), shown.length - 1);
    read(plot, shown[next]);
  };

  const keys = {
    ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10, Home: -1e9, End: 1e9,
  };

  const nearestFrame = (plot, event) => {
    const { chart, element, size, shown } = plot;
    const box = element.getBoundingClientRect();
    const x = (event.clientX - box.left) / box.width * size[0];
    const y = (event.clientY - box.top) / box.height * size[1];
    const [left, top, right, bottom] = chart.area;
    const at = (value, range, from, to) => from + (value - range[0]) / (range[1] - range[0]) * (to - from);
    let best = shown[0];
    let least = Infinity;
    for (const frame of shown) {
      const off = Math.abs(at(chart.x[frame], chart.x_range, left, right) - x);
      const value = chart.series[0].values[frame];
      // A car that stands has many frames at one place: height settles which.
      const aside = value === null ? 0 : Math.abs(at(value, chart.y_range, bottom, top) - y);
      const distance = off + 0.02 * aside;
      if (distance < least) [least, best] = [distance, frame];
    }
    return best;
  };

  for (const chart of data.charts) {
    const element = document.querySelector(`[data-chart="${chart.id}"]`);
    const svg = element.querySelector("svg");
    svg.setAttribute("aria-hidden", "true");
    const shown = chart.x.flatMap((x, frame) =>
      x !== null && x >= chart.x_range[0] && x <= chart.x_range[1] && chart.series.some((s) => s.values[frame] !== null)
        ? [frame] : []);
    if (shown.length === 0) continue;
    const plot = {
      chart, element, shown, frame: shown[0],
      size: [svg.viewBox.baseVal.width, svg.viewBox.baseVal.height],
      cursor: make("div", "cursor", element),
      dots: chart.series.map(() => make("div", "dot", element)),
    };
    plots.push(plot);
    element.tabIndex = 0;
    element.setAttribute("role", "slider");
    element.setAttribute("aria-valuemin", String(shown[0]));
    element.setAttribute("aria-valuemax", String(shown[shown.length - 1]));
    element.setAttribute("aria-valuenow", String(shown[0]));
    element.setAttribute("aria-valuetext", "{{ t.text("script-not-reading") }}");
    element.addEventListener("keydown", (event) => {
      if (event.key === "Escape") leave();
      if (!(event.key in keys) || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      step(plot, keys[event.key]);
    });
    element.addEventListener("pointermove", (event) => read(plot, nearestFrame(plot, event)));
    element.addEventListener("pointerdown", (event) => read(plot, nearestFrame(plot, event)));
    element.addEventListener("pointerleave", leave);
    element.addEventListener("blur", leave);
  }
  leave();
  if (plots.length > 0) document.querySelector(".reading-help").hidden = false;
})();
