// The plot of a trend log, to look into: a stretch that is drawn over, or a key, asks the server for that window. Without
// this the page shows the same plot as a picture, and its form asks for windows.
"use strict";
(() => {
  const place = document.getElementById("trend");
  if (!place || !place.dataset.series || !window.uPlot) return;
  const DASHES = [[], [9, 5], [2, 4], [12, 4, 2, 4]];
  const EDGES = ["solid", "dashed", "dotted", "double"]; // of the same lines in the names under them
  const still = place.querySelector("figure.trend");
  const marks = still && still.querySelector("ol.marks");
  const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const said = document.createElement("p");
  const tools = document.createElement("div");
  const panels = document.createElement("div");
  let now = null;
  let plots = [];
  let asking = null;

  // Keys and buttons
  const acts = {
    "Whole log": () => show(now.whole_from_s, now.whole_to_s),
    "Zoom in": () => stretch(0.5),
    "Zoom out": () => stretch(2),
    Earlier: () => move(-0.5),
    Later: () => move(0.5),
  };
  tools.className = "tools";
  for (const [name, act] of Object.entries(acts)) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = name;
    button.addEventListener("click", () => now && act());
    tools.append(button);
  }
  said.className = "aside";
  said.setAttribute("role", "status");
  panels.className = "panels";

  function stretch(factor) {
    const middle = now.from_s + now.end_s / 2;
    const half = Math.max((now.end_s * factor) / 2, 5);
    show(middle - half, middle + half);
  }
  function move(share) {
    const by = now.end_s * share;
    const from = Math.min(Math.max(now.from_s + by, now.whole_from_s), Math.max(now.whole_to_s - now.end_s, now.whole_from_s));
    show(from, from + now.end_s);
  }

  async function show(from, to) {
    if (asking) asking.abort();
    asking = new AbortController();
    const wide = Math.round(Math.max(place.clientWidth, 300));
    const query = new URLSearchParams({ from: from.toFixed(3), to: to.toFixed(3), pixels: wide });
    said.textContent = "Being read.";
    try {
      const answer = await fetch(`${place.dataset.series}?${query}`, { signal: asking.signal });
      if (!answer.ok) throw new Error(String(answer.status));
      now = await answer.json();
    } catch (error) {
      if (error.name !== "AbortError") said.textContent = "The samples could not be read. Try again, or use the form above.";
      return;
    }
    draw();
  }

  function draw() {
    if (still) still.hidden = true;
    plots.forEach((one) => one.destroy());
    panels.replaceChildren();
    plots = now.panels.map(panel);
    said.textContent = now.label;
    if (marks) {
      marks.replaceChildren(
        ...now.marks.map((one) => {
          const line = document.createElement("li");
          line.textContent = one.words;
          if (one.is_fault) line.className = "bad";
          return line;
        }),
      );
      place.append(marks);
    }
    for (const [name, at] of [["from", now.from_s], ["to", now.from_s + now.end_s]]) {
      const field = document.querySelector(`.window input[name=${name}]`);
      if (field) field.value = local(at);
    }
    const whole = now.from_s === now.whole_from_s && now.from_s + now.end_s >= now.whole_to_s - 0.001;
    const address = new URL(location.href);
    for (const name of ["from", "to", "page"]) address.searchParams.delete(name);
    if (!whole) {
      address.searchParams.set("from", now.from_s.toFixed(3));
      address.searchParams.set("to", (now.from_s + now.end_s).toFixed(3));
    }
    history.replaceState(null, "", address);
  }

  // One panel
  function panel(one, index) {
    const frame = document.createElement("div");
    const title = document.createElement("p");
    title.className = "panel";
    title.textContent = one.unit ? `${one.title}, ${one.unit}` : one.title;
    frame.append(title);
    if (index) frame.className = "below";
    panels.append(frame);
    const last = index === now.panels.length - 1;
    const high = one.lanes ? 22 * one.lines.length + 12 : 150;
    const lines = one.lines.map((line, number) => {
      const lift = one.lanes ? (one.lines.length - 1 - number) * 1.5 : 0;
      const values = line.values.map((value) => (value === null ? null : one.lanes ? Math.min(Math.max(value, 0), 1) + lift : value));
      return [line.times_s.map((at) => at + now.from_s), values];
    });
    const options = {
      width: Math.max(panels.clientWidth, 300),
      height: high + (last ? 46 : 18),
      padding: [null, 28, null, null], // the last day's name stands whole
      legend: { markers: { width: 2, dash: (_, number) => EDGES[(number - 1) % 4] } },
      tzDate: (at) => uPlot.tzDate(new Date(at * 1000), now.zone),
      cursor: { sync: { key: "trend" }, drag: { x: true, y: false, setScale: false } },
      scales: { x: { time: true, min: now.from_s, max: now.from_s + now.end_s }, y: range(one) },
      axes: [axis(last ? { values: days } : { size: 18, values: (_, ticks) => ticks.map(() => "") }), yAxis(one)],
      series: [{ label: "Time", value: (_, at) => (at === null ? "" : clock(at)) }, ...one.lines.map((line, number) => series(line, number, one))],
      hooks: { draw: [(plot) => over(plot, one, index)], setSelect: [chosen] },
    };
    return new uPlot(options, uPlot.join(lines.map((pair) => pair)), frame);
  }
  function range(one) {
    if (one.lanes) return { range: [-0.3, one.lines.length * 1.5 - 0.2] };
    const levels = one.limits.map((limit) => limit.value);
    return {
      range: (_, low, high) => {
        if (low === null) return [0, 1];
        const [least, most] = [Math.min(low, ...levels), Math.max(high, ...levels)];
        return uPlot.rangeNum(least, most === least ? least + 1 : most, 0.06, true);
      },
    };
  }
  function axis(more) {
    return { stroke: ink("--quiet"), grid: { stroke: ink("--hairline"), width: 0.5 }, ticks: { stroke: ink("--hairline"), width: 0.5 }, font: "12px system-ui, sans-serif", ...more };
  }
  function yAxis(one) {
    if (!one.lanes) return axis({ size: 56 });
    const places = one.lines.map((_, number) => (one.lines.length - 1 - number) * 1.5 + 0.5);
    return axis({ size: 56, splits: () => places, values: () => one.lines.map((_, number) => String(number + 1)), grid: { show: false } });
  }
  function series(line, number, one) {
    const shape = one.lanes ? {} : { dash: DASHES[number % 4] };
    return {
      label: one.lanes ? `${number + 1}: ${line.name}` : line.name,
      stroke: ink("--ink"),
      width: number % 2 ? 1 : 1.5,
      fill: one.lanes ? ink("--band") : undefined,
      fillTo: one.lanes ? () => (one.lines.length - 1 - number) * 1.5 : undefined,
      paths: line.steps ? uPlot.paths.stepped({ align: 1 }) : undefined,
      points: { size: 4, fill: ink("--ink"), show: false },
      value: (_, value) => (value === null || value === undefined ? "–" : one.lanes ? (value % 1.5 > 0.5 ? "on" : "off") : `${+value.toPrecision(5)} ${one.unit}`),
      ...shape,
    };
  }
  // Under each tick the hour, and the day where it begins.
  function days(_, ticks) {
    let before = "";
    return ticks.map((at) => {
      const day = told(at, { weekday: "short", day: "numeric", month: "short" }).replace(",", "");
      const hour = told(at, { hour: "2-digit", minute: "2-digit" });
      const text = day === before ? hour : `${hour}\n${day}`;
      before = day;
      return text;
    });
  }
  function told(at, how) {
    return new Intl.DateTimeFormat("en-GB", { timeZone: now.zone, ...how }).format(at * 1000);
  }
  function local(at) {
    return new Intl.DateTimeFormat("sv-SE", { timeZone: now.zone, dateStyle: "short", timeStyle: "medium" }).format(at * 1000).replace(" ", "T");
  }
  function clock(at) {
    return told(at, { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", second: "2-digit" });
  }
  function chosen(plot) {
    if (plot.select.width < 4) return;
    const [from, to] = [plot.posToVal(plot.select.left, "x"), plot.posToVal(plot.select.left + plot.select.width, "x")];
    plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
    show(from, Math.max(to, from + 10));
  }

  // Limits and marks over the lines: dashes and numbers, so that they are told apart without colour.
  function over(plot, one, index) {
    const draw = plot.ctx;
    const ratio = devicePixelRatio || 1;
    const { left, top, width, height } = plot.bbox;
    draw.save();
    draw.font = `${12 * ratio}px system-ui, sans-serif`;
    draw.lineWidth = ratio;
    draw.textAlign = "left";
    draw.textBaseline = "alphabetic";
    for (const limit of one.limits) {
      const y = plot.valToPos(limit.value, "y", true);
      draw.strokeStyle = draw.fillStyle = ink("--quiet");
      draw.setLineDash([3 * ratio, 3 * ratio]);
      line(draw, left, y, left + width, y);
      draw.fillText(limit.name, left + 4 * ratio, y - 3 * ratio, width - 8 * ratio);
    }
    draw.setLineDash([]);
    now.marks.forEach((mark, number) => {
      draw.strokeStyle = draw.fillStyle = mark.is_fault ? ink("--brick") : ink("--quiet");
      const [from, to] = [mark.from_s, mark.to_s].map((at) => Math.min(Math.max(plot.valToPos(at + now.from_s, "x", true), left), left + width));
      if (to - from > 2) {
        draw.globalAlpha = 0.12;
        draw.fillRect(from, top, to - from, height);
        draw.globalAlpha = 1;
      }
      line(draw, from, top, from, top + height);
      if (index === 0) draw.fillText(String(number + 1), Math.min(from + 2, left + width - 14 * ratio), top + (12 + 12 * (number % 2)) * ratio);
    });
    draw.restore();
  }
  function line(draw, x1, y1, x2, y2) {
    draw.beginPath();
    draw.moveTo(x1, y1);
    draw.lineTo(x2, y2);
    draw.stroke();
  }

  let wide = 0;
  new ResizeObserver(() => {
    if (!now || Math.abs(place.clientWidth - wide) < 8) return;
    wide = place.clientWidth;
    plots.forEach((one) => one.setSize({ width: Math.max(panels.clientWidth, 300), height: one.height }));
  }).observe(place);
  place.prepend(tools, said, panels);
  place.classList.add("live");
  show(Number(place.dataset.from), Number(place.dataset.to));
})();
