// Puts a chart that can be pointed at in the place of each drawn panel, where
// the chart library was built in. Captions, line samples and the table stay.
(() => {
  "use strict";

  const holder = document.getElementById("chart");
  if (!holder || !window.uPlot) return;
  const dashes = { dew: [8, 5], "surface-1": [2, 4], "surface-2": [10, 4, 2, 4], "surface-3": [14, 4] };
  const inks = { air: "ink", dew: "accent", rh: "accent" };
  const least = { temperature: 6, humidity: 20 }; // span of a scale, as in the drawing
  let plots = [];

  function colour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  }

  function series(label, style) {
    return {
      label,
      stroke: () => colour(inks[style] || "warn"),
      width: 2,
      dash: dashes[style],
      points: { show: false },
    };
  }

  function axis(extra) {
    return {
      stroke: () => colour("soft"),
      grid: { stroke: () => colour("rule"), width: 1 },
      ticks: { show: false },
      font: '13px ui-sans-serif, system-ui, "DejaVu Sans", sans-serif',
      ...extra,
    };
  }

  // Instants are moved by the shop's offset and then read as UTC, so that the
  // chart tells the shop's time on any phone.
  function clock(t, form) {
    return new Date(t * 1000).toLocaleString("en-GB", { timeZone: "UTC", ...form });
  }

  const hour = { hour: "2-digit", minute: "2-digit" };

  function hours(_, splits) {
    return splits.map((t) => clock(t, t % 86400 === 0 ? { weekday: "short", day: "numeric" } : hour));
  }

  function widen(span, top) {
    return (_, low, high) => {
      if (low == null) return [0, span];
      const spare = Math.max(span - (high - low), (high - low) * 0.1) / 2;
      return [Math.max(low - spare, top === 100 ? 0 : -Infinity), Math.min(high + spare, top)];
    };
  }

  // readout says in words what stands under the pointer.
  function readout(place, unit) {
    return (u) => {
      const i = u.cursor.idx;
      if (i == null) {
        place.textContent = "Point at the chart to read it.";
        return;
      }
      const parts = u.series.slice(1).map((s, k) => {
        const v = u.data[k + 1][i];
        return `${s.label} ${v == null ? "not measured" : `${v.toFixed(1).replace("-", "−")} ${unit}`}`;
      });
      place.textContent = `${clock(u.data[0][i], { weekday: "short", ...hour })}: ${parts.join(", ")}`;
    };
  }

  function draw(panel, kind, unit, lines, columns) {
    for (const old of panel.querySelectorAll(":scope > svg, .uplot, .readout")) old.remove();
    const place = document.createElement("p");
    place.className = "readout";
    const say = readout(place, unit);
    const plot = new uPlot({
      width: holder.clientWidth,
      height: kind === "temperature" ? 280 : 180,
      tzDate: (t) => uPlot.tzDate(new Date(t * 1000), "Etc/UTC"),
      cursor: { sync: { key: "history" }, drag: { x: false, y: false } },
      legend: { show: false },
      scales: { y: { range: widen(least[kind], kind === "humidity" ? 100 : Infinity) } },
      series: [{}, ...lines],
      axes: [axis({ values: hours, space: 64, size: 28 }), axis({ values: (_, all) => all.map((v) => String(v).replace("-", "−")), size: 40, space: 36 })],
      hooks: { setCursor: [say], ready: [say] },
    }, columns, panel);
    panel.append(place);
    plots.push(plot);
  }

  function drawAll(data) {
    const [above, below] = holder.querySelectorAll(".panel");
    const unit = data.temperature_unit;
    const shown = (list) => (unit === "°F" ? list.map((c) => (c == null ? null : (c * 9) / 5 + 32)) : list);
    const at = data.at_unix_s.map((t) => t + data.zone_offset_s);
    const lines = [series("air", "air"), series("dew point", "dew")];
    const columns = [at, shown(data.air_c), shown(data.dew_point_c)];
    data.surfaces.forEach((s, i) => {
      lines.push(series(s.label, `surface-${(i % 3) + 1}`));
      columns.push(shown(s.surface_c));
    });
    for (const p of plots) p.destroy();
    plots = [];
    holder.querySelector(":scope > .hours")?.remove();
    draw(above, "temperature", unit, lines, columns);
    draw(below, "humidity", "%", [series("relative humidity", "rh")], [at, data.rh_pct]);
  }

  async function renew() {
    try {
      const answer = await fetch(holder.dataset.history, { cache: "no-store" });
      if (!answer.ok) return;
      const data = await answer.json();
      if (data.at_unix_s.length > 1) drawAll(data);
    } catch {
      // The drawn history stays as it is; live.js says that the hub is away.
    }
  }

  if (holder.querySelectorAll(".panel").length !== 2) return; // nothing measured yet
  holder.removeAttribute("data-live"); // from here on this script renews it
  document.addEventListener("recoat:fresh", renew);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", renew);
  new ResizeObserver(() => {
    for (const p of plots) {
      if (p.width !== holder.clientWidth) p.setSize({ width: holder.clientWidth, height: p.height });
    }
  }).observe(holder);
  renew();
})();
