// Puts a chart that can be pointed at in place of the drawn history, where the
// chart library was built in. The table below it stays.
(() => {
  "use strict";

  const holder = document.getElementById("chart");
  if (!holder || !window.uPlot) return;
  const dashes = { air: [], dew: [8, 5], rh: [], "surface-1": [2, 4], "surface-2": [10, 4, 2, 4], "surface-3": [14, 4] };
  const heights = { temperature: 260, humidity: 160 };
  let plots = [];

  function colour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  }

  function series(label, style, ink, unit) {
    return {
      label,
      stroke: () => colour(ink),
      width: 2,
      dash: dashes[style],
      points: { show: false },
      value: (_, v) => (v == null ? "–" : `${v.toFixed(1)} ${unit}`),
    };
  }

  function axis(values) {
    return {
      stroke: () => colour("soft"),
      grid: { stroke: () => colour("rule"), width: 1 },
      ticks: { show: false },
      font: "13px sans-serif",
      size: 44,
      values,
    };
  }

  function options(width, height, lines) {
    const clock = (t) => new Date(t * 1000).toLocaleString([], { weekday: "short", hour: "2-digit", minute: "2-digit", hour12: false });
    const time = {
      label: "Time",
      value: (_, t) => (t == null ? "–" : clock(t)),
    };
    const across = axis((_, splits) => splits.map((t) => {
      const d = new Date(t * 1000);
      const short = d.getHours() === 0 && d.getMinutes() === 0 ? { weekday: "short" } : { hour: "2-digit", minute: "2-digit", hour12: false };
      return d.toLocaleString([], short);
    }));
    across.space = 64;
    across.size = 30;
    return {
      width,
      height,
      cursor: { sync: { key: "history" }, drag: { x: false, y: false } },
      legend: { live: true },
      series: [time, ...lines],
      axes: [across, axis((_, splits) => splits.map((v) => String(v)))],
    };
  }

  function draw(data) {
    const warm = data.temperature_unit === "°F" ? (c) => (c == null ? null : (c * 9) / 5 + 32) : (c) => c;
    const unit = data.temperature_unit;
    const lines = [series("air", "air", "ink", unit), series("dew point", "dew", "accent", unit)];
    const columns = [data.at_unix_s, data.air_c.map(warm), data.dew_point_c.map(warm)];
    data.surfaces.forEach((s, i) => {
      lines.push(series(s.label, `surface-${(i % 3) + 1}`, "warn", unit));
      columns.push(s.surface_c.map(warm));
    });
    const above = place(`Temperature, ${unit}`);
    const below = place("Relative humidity, %");
    const width = holder.clientWidth;
    plots = [
      new uPlot(options(width, heights.temperature, lines), columns, above),
      new uPlot(options(width, heights.humidity, [series("relative humidity", "rh", "accent", "%")]), [data.at_unix_s, data.rh_pct], below),
    ];
  }

  function place(title) {
    const figure = document.createElement("figure");
    figure.className = "panel plot";
    const caption = document.createElement("figcaption");
    const name = document.createElement("b");
    name.textContent = title;
    caption.append(name);
    figure.append(caption);
    holder.insertBefore(figure, holder.querySelector("details"));
    return figure;
  }

  function clear() {
    for (const p of plots) p.destroy();
    plots = [];
    for (const drawn of holder.querySelectorAll(".panel, .hours")) drawn.remove();
  }

  async function renew() {
    try {
      const answer = await fetch(holder.dataset.history, { cache: "no-store" });
      if (!answer.ok) return;
      const data = await answer.json();
      if (data.at_unix_s.length < 2) return;
      clear();
      draw(data);
    } catch {
      // The drawn history stays as it is; live.js says that the hub is away.
    }
  }

  holder.removeAttribute("data-live"); // from here on this script renews it
  document.addEventListener("recoat:fresh", renew);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", renew);
  new ResizeObserver(() => {
    for (const p of plots) if (p.width !== holder.clientWidth) p.setSize({ width: holder.clientWidth, height: p.height });
  }).observe(holder);
  renew();
})();
