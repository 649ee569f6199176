// Read-out of a chart by pointer, finger or arrow keys, and zoom by dragging across.

const SVG = "http://www.w3.org/2000/svg";

/** The chart of the two (wide, narrow) that is on show. */
const visible = (figure) =>
  [...figure.querySelectorAll("svg.chart")].find((s) => s.getBoundingClientRect().width > 0);

function setUp(figure) {
  let data = null;
  let asked = null;
  let times = [];
  let at = -1;
  let dragFrom = null;
  const out = figure.querySelector(".read-out");

  const load = () => {
    asked ??= fetch(figure.dataset.series)
      .then((answer) => (answer.ok ? answer.json() : Promise.reject(answer.status)))
      .then((json) => {
        data = json;
        times = [...new Set(json.series.flatMap((s) => s.minutes))].sort((a, b) => a - b);
      })
      .catch(() => { out.textContent = "The values could not be fetched. Reload the page."; });
    return asked;
  };

  const frame = () => {
    const svg = visible(figure);
    const d = svg.dataset;
    return {
      svg,
      left: Number(d.left), right: Number(d.right), top: Number(d.top), bottom: Number(d.bottom),
      from: Number(d.fromMs), to: Number(d.toMs),
    };
  };

  /** Instant under a pointer, held inside the chart. */
  const instant = (event) => {
    const f = frame();
    const box = f.svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * f.svg.viewBox.baseVal.width;
    const share = Math.min(1, Math.max(0, (x - f.left) / (f.right - f.left)));
    return f.from + share * (f.to - f.from);
  };

  const place = (ms) => {
    const f = frame();
    return f.left + ((ms - f.from) / (f.to - f.from)) * (f.right - f.left);
  };

  const part = (name, className) => {
    const f = frame();
    let node = f.svg.querySelector(`.${className}`);
    if (!node) {
      node = document.createElementNS(SVG, name);
      node.setAttribute("class", className);
      f.svg.append(node);
    }
    return node;
  };

  const show = (index) => {
    if (!data || times.length === 0) return;
    at = Math.min(times.length - 1, Math.max(0, index));
    const minute = times[at];
    const f = frame();
    const line = part("line", "cursor-line");
    const x = place(data.from_ms + minute * 60000);
    for (const [k, v] of [["x1", x], ["x2", x], ["y1", f.top], ["y2", f.bottom]]) {
      line.setAttribute(k, v);
    }
    const stamp = new Date(data.from_ms + minute * 60000).toISOString();
    const when = document.createElement("strong");
    when.textContent = `${stamp.slice(0, 10)} ${stamp.slice(11, 16)} UTC`;
    const items = [when];
    for (const s of data.series) {
      const i = s.minutes.indexOf(minute);
      if (i < 0) continue;
      const span = document.createElement("span");
      const value = String(Math.round(s.values[i] * 100) / 100).replace("-", "−");
      span.textContent = `${s.name} ${value} ${s.unit}`;
      items.push(span);
    }
    out.replaceChildren(...items);
  };

  /** Index of the reading nearest to an instant. */
  const nearest = (ms) => {
    const minute = (ms - data.from_ms) / 60000;
    let low = 0;
    let high = times.length - 1;
    while (high - low > 1) {
      const mid = (low + high) >> 1;
      if (times[mid] < minute) low = mid; else high = mid;
    }
    return minute - times[low] < times[high] - minute ? low : high;
  };

  figure.addEventListener("pointermove", (event) => {
    if (!event.target.closest("svg.chart")) return;
    load().then(() => { if (data) show(nearest(instant(event))); });
    if (dragFrom === null) return;
    const f = frame();
    const [a, b] = [place(dragFrom), place(instant(event))].sort((p, q) => p - q);
    const field = part("rect", "drag-field");
    for (const [k, v] of [["x", a], ["y", f.top], ["width", b - a], ["height", f.bottom - f.top]]) {
      field.setAttribute(k, v);
    }
  });

  figure.addEventListener("pointerdown", (event) => {
    const svg = event.target.closest("svg.chart");
    if (!svg || event.button !== 0) return;
    load().then(() => { if (data) show(nearest(instant(event))); });
    if (event.pointerType !== "touch") dragFrom = instant(event);
  });

  const letGo = (event) => {
    figure.querySelectorAll(".drag-field").forEach((n) => n.remove());
    const from = dragFrom;
    dragFrom = null;
    if (from === null || event.type === "pointercancel") return;
    const [a, b] = [from, instant(event)].sort((p, q) => p - q);
    const f = frame();
    // A click, or a stretch too short to mean anything, is no zoom.
    if (place(b) - place(a) < 8 || b - a < 600000) return;
    const text = (ms) => encodeURIComponent(new Date(ms).toISOString().slice(0, 16));
    location.assign(`${figure.dataset.zoom}?from=${text(a)}&to=${text(b)}#history`);
  };
  figure.addEventListener("pointerup", letGo);
  figure.addEventListener("pointercancel", letGo);
  figure.addEventListener("pointerleave", (event) => { if (dragFrom !== null) letGo(event); });

  figure.addEventListener("keydown", (event) => {
    if (event.target !== figure || event.altKey || event.ctrlKey || event.metaKey) return;
    const step = event.shiftKey ? 10 : 1;
    const move = {
      ArrowLeft: () => (at < 0 ? times.length - 1 : at - step),
      ArrowRight: () => (at < 0 ? 0 : at + step),
      Home: () => 0,
      End: () => times.length - 1,
    }[event.key];
    if (!move) return;
    event.preventDefault();
    load().then(() => show(move()));
  });
}

function setUpAll() {
  for (const figure of document.querySelectorAll("figure.history:not([data-ready])")) {
    figure.dataset.ready = "yes";
    setUp(figure);
  }
}

setUpAll();
document.addEventListener("renewed", setUpAll);
