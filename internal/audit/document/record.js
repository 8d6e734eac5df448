"use strict";
// The interactive chart: move, zoom, and read values. Without it the drawing
// and the tables say the same.
(function () {
  const charts = JSON.parse(document.getElementById("charts").textContent) || [];
  const lines = [
    ["air", "air", [], 1.2, "°C"], ["surface", "surface", [], 2.6, "°C"], ["dew", "dew point", [6, 4], 1.4, "°C"], ["rh", "humidity", [2, 3], 1.2, "%"],
  ];
  for (const box of document.querySelectorAll("[data-chart]")) {
    const data = charts[Number(box.dataset.chart) - 1];
    if (data && data.at.length > 1) show(box, data);
  }

  function show(box, data) {
    const first = data.at[0], last = data.at[data.at.length - 1];
    let from = data.from, to = data.to, cursor = null;
    const canvas = document.createElement("canvas"), readout = document.createElement("output");
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", "Air, surface and dew point over time. Arrow keys move, plus and minus zoom.");
    const buttons = [["The night", () => set(data.from, data.to)], ["The whole time", () => set(first, last)], ["Closer", () => zoom(0.5)], ["Wider", () => zoom(2)], ["Earlier", () => move(-0.5)], ["Later", () => move(0.5)]];
    for (const [name, act] of buttons) {
      const b = document.createElement("button");
      b.type = "button";
      b.textContent = name;
      b.addEventListener("click", act);
      box.append(b);
    }
    box.append(canvas, readout);
    box.hidden = false;

    function set(a, b) { from = a; to = Math.max(b, a + 600); draw(); }
    function zoom(by, at) {
      const centre = at === undefined ? (from + to) / 2 : at;
      set(centre - (centre - from) * by, centre + (to - centre) * by);
    }
    function move(by) { const d = (to - from) * by; set(from + d, to + d); }
    const clock = (s) => new Date((s + data.zone) * 1000).toISOString().slice(0, 16).replace("T", " ");

    function draw() {
      const scale = window.devicePixelRatio || 1, w = canvas.clientWidth, h = canvas.clientHeight;
      canvas.width = w * scale;
      canvas.height = h * scale;
      const c = canvas.getContext("2d"), style = getComputedStyle(document.documentElement);
      const ink = style.getPropertyValue("--ink"), rule = style.getPropertyValue("--rule");
      c.scale(scale, scale);
      c.font = "12px system-ui, sans-serif";
      const left = 34, right = 40, top = 18, bottom = 22;
      const x = (t) => left + (w - left - right) * (t - from) / (to - from);
      let low = Infinity, high = -Infinity;
      for (let i = 0; i < data.at.length; i++) {
        if (data.at[i] < from || data.at[i] > to) continue;
        for (const k of ["air", "surface", "dew"]) {
          const v = data[k][i];
          if (v !== null) { low = Math.min(low, v); high = Math.max(high, v); }
        }
      }
      if (low > high) { low = 0; high = 20; }
      low = Math.floor(low - 1); high = Math.ceil(high + 1);
      const y = (v) => top + (h - top - bottom) * (high - v) / (high - low);
      const wet = (v) => top + (h - top - bottom) * (100 - v) / 100;
      c.strokeStyle = rule; c.fillStyle = ink; c.lineWidth = 1;
      const step = Math.max(1, Math.ceil((high - low) / 8));
      for (let v = low; v <= high; v += step) {
        c.beginPath(); c.moveTo(left, y(v)); c.lineTo(w - right, y(v)); c.stroke();
        c.textAlign = "right"; c.fillText(v, left - 4, y(v) + 4);
      }
      c.textAlign = "left"; c.fillText("°C", 2, 12);
      c.textAlign = "right"; c.fillText("% RH, dotted", w - 2, 12);
      for (const v of [0, 50, 100]) c.fillText(v, w - 4, wet(v) + 4);
      c.textAlign = "left"; c.fillText(clock(from), left, h - 6);
      c.textAlign = "right"; c.fillText(clock(to), w - right, h - 6);
      c.save();
      c.beginPath(); c.rect(left, top, w - left - right, h - top - bottom); c.clip();
      c.strokeStyle = ink;
      for (const [key, , dash, width] of lines) {
        c.lineWidth = width; c.setLineDash(dash); c.beginPath();
        let down = false;
        for (let i = 0; i < data.at.length; i++) {
          const v = data[key][i];
          if (v === null) { down = false; continue; }
          const px = x(data.at[i]), py = key === "rh" ? wet(v) : y(v);
          if (down) c.lineTo(px, py); else c.moveTo(px, py);
          down = true;
        }
        c.stroke();
      }
      c.setLineDash([]);
      if (cursor !== null) { c.lineWidth = 1; c.beginPath(); c.moveTo(x(cursor), top); c.lineTo(x(cursor), h - bottom); c.stroke(); }
      c.restore();
    }
    function read(t) {
      let best = 0;
      for (let i = 1; i < data.at.length; i++) if (Math.abs(data.at[i] - t) < Math.abs(data.at[best] - t)) best = i;
      cursor = data.at[best];
      readout.textContent = clock(cursor) + ": " + lines.map(([k, name, , , unit]) => name + " " + (data[k][best] === null ? "–" : data[k][best] + " " + unit)).join(", ");
      draw();
    }
    const time = (e) => from + (to - from) * (e.offsetX - 34) / (canvas.clientWidth - 74);
    let held = null;
    canvas.addEventListener("pointerdown", (e) => { held = { x: e.offsetX, from, to }; canvas.setPointerCapture(e.pointerId); read(time(e)); });
    canvas.addEventListener("pointermove", (e) => {
      if (held && Math.abs(e.offsetX - held.x) > 4) { const d = (held.to - held.from) * (held.x - e.offsetX) / (canvas.clientWidth - 74); set(held.from + d, held.to + d); } else if (!held) read(time(e));
    });
    for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, () => { held = null; });
    canvas.addEventListener("wheel", (e) => { e.preventDefault(); zoom(e.deltaY > 0 ? 1.25 : 0.8, time(e)); }, { passive: false });
    canvas.addEventListener("keydown", (e) => {
      const act = { ArrowLeft: () => move(-0.1), ArrowRight: () => move(0.1), "+": () => zoom(0.8), "-": () => zoom(1.25) }[e.key];
      if (act) { e.preventDefault(); act(); }
    });
    new ResizeObserver(draw).observe(canvas);
    draw();
  }
})();
