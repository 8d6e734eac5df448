// Puts a chart that can be read, moved and zoomed in the place of each drawn
// panel, where the chart library was built in. Captions, the list of what was
// done and the table stay, and follow what is shown.
(() => {
  "use strict";

  const found = document.getElementById("chart");
  if (!found || !window.uPlot) return;
  const holder = found;
  /** @type {Record<string, number[]>} */
  const dashes = { dew: [8, 5], "surface-1": [2, 4], "surface-2": [10, 4, 2, 4], "surface-3": [14, 4] };
  /** @type {Record<string, string>} */
  const inks = { air: "ink", dew: "accent", rh: "accent" };
  const least = { temperature: 6, alerts: 1, humidity: 20, wood: 4, pace: 1 }; // span of a scale, as in the drawing
  /** @type {Partial<Record<PanelKind, number>>} */
  const most = { humidity: 100, wood: 100 };
  /** @type {Record<PanelKind, number>} */
  const heights = { alerts: 24, temperature: 280, humidity: 180, wood: 130, pace: 150 };
  const names = { temperature: "°C", alerts: "", humidity: "%", wood: "%", pace: "" };
  const shortest = 600; // s
  const longest = 20 * 365 * 86400; // s
  const settled = 250; // ms without a movement until finer data is asked for

  const ahead = Date.parse(document.body.dataset.now ?? "") - Date.now(); // of the hub's clock, ms
  const clockNow = () => (Date.now() + ahead) / 1000; // s
  const base = `/room/${holder.dataset.room}`;
  /** @type {PanelPlot[]} */
  let plots = [];
  /** @type {RoomHistory} */
  let data; // what the server sent
  /** @type {[number, number]} */
  let shown; // [from, to], s since 1970
  let live = true; // the end of what is shown is now
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let waiting;
  let asked = 0;
  /** @type {HTMLElement} */
  let readout;

  /** @type {Map<string, string>} */
  const colours = new Map(); // as read from the style sheet: asking it at each movement is slow

  /** @param {string} name */
  function colour(name) {
    const known = colours.get(name);
    if (known !== undefined) return known;
    const read = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
    colours.set(name, read);
    return read;
  }

  /** @param {string} label @param {string} style @returns {PlotSeries} */
  function series(label, style) {
    return { label, stroke: () => colour(inks[style] || "warn"), width: 2, dash: dashes[style], points: { show: false } };
  }

  /** @param {PlotAxis} extra @returns {PlotAxis} */
  function axis(extra) {
    return {
      stroke: () => colour("soft"),
      grid: { stroke: () => colour("rule"), width: 1 },
      ticks: { show: false },
      font: '13px ui-sans-serif, system-ui, "DejaVu Sans", sans-serif',
      ...extra,
    };
  }

  const { hour, day, month, year, instant, date } = timeForms;

  /** @param {number} t @param {TimeForm} form */
  const clock = (t, form) => shopTime(t, form, data);

  /** @param {Plot} _ @param {number} __ @param {number} from @param {number} to */
  function splits(_, __, from, to) {
    return instants(from, to, data.zone_offset_s, Math.max(4, holder.clientWidth / 110));
  }

  /** @param {Plot} _ @param {number[]} all */
  function ticks(_, all) {
    const step = all.length > 1 ? all[1] - all[0] : 3600;
    return all.map((t) => {
      if (step >= 7_000_000) return clock(t, year);
      if (step >= 600_000) return clock(t, month);
      if (step >= 86_400 || (t + data.zone_offset_s) % 86_400 === 0) return clock(t, day);
      return clock(t, hour);
    });
  }

  /** @param {PanelKind} kind @returns {PlotRange} */
  function widen(kind) {
    const top = most[kind] ?? Infinity;
    return (_, low, high) => {
      if (low == null) return [0, least[kind]];
      const spare = Math.max(least[kind] - (high - low), (high - low) * 0.1) / 2;
      return [Math.max(low - spare, kind === "temperature" ? -Infinity : 0), Math.min(high + spare, top)];
    };
  }

  // Draws what lies beyond a limit, the times too near the dew point, and what
  // was done.
  /** @param {PanelKind} kind @returns {(u: Plot) => void} */
  function shade(kind) {
    return (u) => {
      const { ctx } = u;
      const { left, top, width, height } = u.bbox;
      ctx.save();
      ctx.beginPath();
      ctx.rect(left, top, width, height);
      ctx.clip();
      ctx.fillStyle = colour("wash");
      if (kind === "temperature") {
        for (const [from, to] of data.near_dew_point_unix_s) {
          const x = u.valToPos(from, "x", true);
          ctx.fillRect(x, top, u.valToPos(to, "x", true) - x, height);
        }
      }
      for (const [value, over] of limits(kind)) {
        const y = u.valToPos(value, "y", true);
        if (over) ctx.fillRect(left, y, width, top + height - y);
        else ctx.fillRect(left, top, width, y - top);
        ctx.strokeStyle = colour("warn");
        ctx.lineWidth = 1.5 * devicePixelRatio;
        ctx.setLineDash([9 * devicePixelRatio, 4 * devicePixelRatio]);
        ctx.strokeRect(left - 9, y, width + 18, 0);
      }
      ctx.strokeStyle = colour("ink");
      ctx.lineWidth = devicePixelRatio;
      for (const d of data.done) {
        const x = u.valToPos(d.at_unix_s, "x", true);
        ctx.setLineDash((d.touch_test ? [1, 4] : [3, 3]).map((v) => v * devicePixelRatio));
        ctx.beginPath();
        ctx.moveTo(x, top);
        ctx.lineTo(x, top + height);
        ctx.stroke();
        if (kind !== "temperature") continue;
        ctx.fillStyle = colour("ink");
        ctx.font = `600 ${12 * devicePixelRatio}px sans-serif`;
        ctx.fillText(d.mark, x + 3 * devicePixelRatio, top + 12 * devicePixelRatio);
      }
      ctx.restore();
      if (kind === "alerts") drawAlerts(u, data.alerts, clockNow(), colour);
    };
  }

  /** @template {number | null} T @param {T} c @returns {T | number} */
  function warmth(c) {
    return c != null && data.temperature_unit === "°F" ? (c * 9) / 5 + 32 : c;
  }

  /** @param {PanelKind} kind @returns {[value: number, over: boolean][]} */
  function limits(kind) {
    const l = data.limits;
    if (kind === "temperature") return [[warmth(l.air_min_c), true], [warmth(l.air_max_c), false]];
    return kind === "humidity" && l.rh_max_pct ? [[l.rh_max_pct, false]] : [];
  }

  /** @param {string} label @param {string} style @param {Column} column @returns {PlotLine} */
  const line = (label, style, column) => [label, style, column];

  // The labels, styles and columns of a panel.
  /** @param {PanelKind} kind @returns {PlotLine[]} */
  function linesOf(kind) {
    switch (kind) {
      case "temperature":
        return [["air", "air", data.air_c.map(warmth)], ["dew point", "dew", data.dew_point_c.map(warmth)],
          ...data.surfaces.map((s, i) => line(s.label, `surface-${(i % 3) + 1}`, s.surface_c.map(warmth)))];
      case "humidity":
        return [["humidity", "rh", data.rh_pct]];
      case "wood":
        return [["wood moisture", "rh", data.wood_emc_pct]];
      case "alerts":
        return [["", "air", data.at_unix_s.map(() => null)]];
      default:
        return data.paces.map((p, i) => line(`pace of ${p.product}`, ["air", "dew", "surface-1"][i], p.pace));
    }
  }

  /** @param {number | null | undefined} v @param {PanelKind} kind */
  function value(v, kind) {
    if (v == null) return "not measured";
    const unit = kind === "temperature" ? data.temperature_unit : names[kind];
    return `${v.toFixed(kind === "pace" ? 2 : 1).replace("-", "−")} ${unit}`.trim();
  }

  // Puts into words what stands under the pointer.
  /** @param {Plot} u */
  function say(u) {
    const i = u.cursor.idx;
    if (i == null || (u.cursor.left ?? 0) < 0) {
      readout.textContent = "Point at the chart, or use ← and → on it, to read any instant. Drag to move, pinch or turn the wheel to zoom; + and − do the same.";
      return;
    }
    const parts = plots.filter((p) => p.kind !== "alerts").flatMap((p) => p.series.slice(1).map((s, k) => `${s.label} ${value(p.data[k + 1][i], p.kind)}`));
    const form = shown[1] - shown[0] > 80 * 86400 ? date : instant;
    const told = alertsAt(data.alerts, data.at_unix_s[i], shown[1] - shown[0]);
    readout.textContent = `${clock(data.at_unix_s[i], form)}: ${parts.join(", ")}.${told}`;
  }

  /** @param {HTMLElement} panel @param {PanelKind} kind */
  function heightOf(panel, kind) {
    return kind === "alerts" ? Number(panel.dataset.height) : heights[kind];
  }

  /** @param {HTMLElement} panel */
  function draw(panel) {
    const kind = /** @type {PanelKind} */ (panel.dataset.panel);
    for (const old of panel.querySelectorAll(":scope > svg, .uplot")) old.remove();
    const lines = linesOf(kind);
    const plot = Object.assign(new uPlot({
      width: holder.clientWidth,
      height: heightOf(panel, kind),
      tzDate: (t) => uPlot.tzDate(new Date(t * 1000), "Etc/UTC"),
      padding: [kind === "alerts" ? 0 : 12, 16, 0, 0], // as wide in each, so that instants stand above each other
      cursor: { sync: { key: "history" }, drag: { x: false, y: false }, y: false },
      legend: { show: false },
      scales: { x: { range: () => shown }, y: { range: widen(kind) } },
      series: [{}, ...lines.map(([label, style]) => series(label, style))],
      axes: kind === "alerts" ? [axis({ splits, values: () => [], size: 0 }), axis({ values: () => [], size: 44, grid: { show: false } })]
        : [axis({ splits, values: ticks, size: 28 }), axis({ values: (_, all) => all.map((v) => String(v).replace("-", "−")), size: 44, space: 34 })],
      hooks: { setCursor: [say], drawAxes: [shade(kind)] },
    }, [data.at_unix_s, ...lines.map((l) => l[2])], panel), { kind });
    plots.push(plot);
    takeGestures(plot, pan, zoom);
    reach(plot);
  }

  function drawAll() {
    for (const p of plots) p.destroy();
    plots = [];
    holder.querySelector(":scope > .hours")?.remove();
    readout ??= Object.assign(document.createElement("p"), { className: "readout" });
    holder.querySelector(".shift")?.after(readout);
    for (const panel of /** @type {NodeListOf<HTMLElement>} */ (holder.querySelectorAll(".panel"))) draw(panel);
    say(plots[0]);
  }

  // Moves the window, at once with what is loaded, and asks for finer data once
  // it rests.
  /** @param {number} from @param {number} to */
  function show(from, to) {
    const now = clockNow();
    let length = Math.min(Math.max(to - from, shortest), longest);
    if (to > now) [from, to] = [now - length, now];
    if (to - from !== length) [from, to] = [(from + to - length) / 2, (from + to + length) / 2];
    shown = [from, to];
    live = to >= now - 1;
    for (const p of plots) p.setScale("x", { min: from, max: to });
    clearTimeout(waiting);
    waiting = setTimeout(renew, settled);
  }

  /** @param {number} share @param {number} by */
  function zoom(share, by) {
    const [from, to] = shown;
    const at = from + share * (to - from);
    show(at - (at - from) * by, at + (to - at) * by);
  }

  /** @param {number} share */
  function pan(share) {
    const by = share * (shown[1] - shown[0]);
    show(shown[0] + by, shown[1] + by);
  }

  // Lets the keyboard come to a plot.
  /** @param {Plot} u */
  function reach(u) {
    u.root.tabIndex = 0;
    u.root.setAttribute("role", "group");
    u.root.setAttribute("aria-label", `${u.root.closest(".panel")?.querySelector("b")?.textContent}: left and right read it, plus and minus zoom, page up and page down move. The table below says the same.`);
    u.root.addEventListener("keydown", (e) => key(u, e));
  }

  /** @param {Plot} u @param {KeyboardEvent} e */
  function key(u, e) {
    const step = e.key === "ArrowLeft" ? -1 : e.key === "ArrowRight" ? 1 : 0;
    if (step) {
      const last = data.at_unix_s.length - 1;
      const i = Math.min(Math.max((u.cursor.idx ?? last) + step, 0), last);
      u.setCursor({ left: u.valToPos(data.at_unix_s[i], "x"), top: 10 });
      readout.setAttribute("aria-live", "polite");
    } else if (e.key === "+" || e.key === "=") zoom(0.5, 0.5);
    else if (e.key === "-") zoom(0.5, 2);
    else if (e.key === "PageUp") pan(-0.5);
    else if (e.key === "PageDown") pan(0.5);
    else return;
    e.preventDefault();
  }

  function query() {
    return `from=${Math.floor(shown[0])}&to=${live ? Math.ceil(clockNow()) + 60 : Math.floor(shown[1])}`;
  }

  // renew fetches what is shown, with half as much on either side to move into.
  async function renew() {
    const mine = ++asked;
    if (live) shown = [shown[0] + clockNow() - shown[1], clockNow()];
    try {
      const answer = await fetch(`/api/rooms/${holder.dataset.room}/history?${query()}&beside=1`, { cache: "no-store" });
      const page = await fetch(`${base}?${query()}`, { cache: "no-store" });
      if (!answer.ok || !page.ok || mine !== asked) return;
      const fresh = await answer.json();
      const next = new DOMParser().parseFromString(await page.text(), "text/html");
      const text = next.getElementById("chart");
      if (!text || mine !== asked) return;
      take(fresh, text);
      remember(next, text);
    } catch {
      // What is drawn stays as it is; live.js says that the hub is away.
    }
  }

  // The address asks for what is shown, so that it can be kept and sent on.
  /** @param {Document} next @param {HTMLElement} text */
  function remember(next, text) {
    const spans = next.querySelector(".spans");
    if (spans) document.querySelector(".spans")?.replaceWith(spans);
    holder.dataset.query = text.dataset.query;
    history.replaceState(null, "", `?${text.dataset.query}`);
  }

  // Puts new data under the same window, and the words that go with it.
  /** @param {RoomHistory} fresh @param {HTMLElement} text */
  function take(fresh, text) {
    data = fresh;
    const kinds = (/** @type {HTMLElement} */ root) => [.../** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll(".panel"))].map((p) => p.dataset.panel).join();
    const open = table()?.open;
    if (kinds(text) !== kinds(holder) || plots.length === 0) {
      holder.replaceChildren(...text.childNodes);
      if (holder.querySelector(".panel")) drawAll();
    } else {
      for (const p of plots) p.setData([data.at_unix_s, ...linesOf(p.kind).map((l) => l[2])]);
      fitLane(text);
      for (const part of [".shift", "#done", "#told", "#history-table", "#files", "[data-panel=alerts] figcaption"]) {
        const next = text.querySelector(part);
        if (next) holder.querySelector(part)?.replaceWith(next);
      }
    }
    const after = table();
    if (after) after.open = Boolean(open);
    offerPicture(holder, () => shown[1]);
  }

  /** @param {HTMLElement} text */
  function fitLane(text) {
    const height = Number(/** @type {HTMLElement | null} */ (text.querySelector("[data-panel=alerts]"))?.dataset.height);
    const plot = plots.find((p) => p.kind === "alerts");
    if (plot && plot.height !== height) plot.setSize({ width: plot.width, height });
  }

  function table() {
    return /** @type {HTMLDetailsElement | null} */ (holder.querySelector("#history-table"));
  }

  holder.addEventListener("click", (e) => {
    const link = e.target instanceof Element && e.target.closest(".shift a");
    if (!(link instanceof HTMLAnchorElement) || plots.length === 0) return;
    e.preventDefault();
    pan(link.rel === "next" ? 0.5 : -0.5);
  });

  async function start() {
    try {
      const answer = await fetch(`/api/rooms/${holder.dataset.room}/history?${holder.dataset.query}`, { cache: "no-store" });
      if (!answer.ok) return;
      data = await answer.json();
    } catch {
      return; // the drawing stays
    }
    shown = [data.from_unix_s, data.to_unix_s];
    live = Boolean(holder.dataset.query?.startsWith("span="));
    if (data.at_unix_s.length < 2) return;
    drawAll();
    offerPicture(holder, () => shown[1]);
    holder.dataset.drawn = String(plots.length);
  }

  if (!holder.querySelector(".panel")) return; // nothing measured yet
  holder.removeAttribute("data-live"); // from here on this script renews it
  document.addEventListener("recoat:fresh", () => {
    if (live && data) renew();
  });
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    colours.clear();
    for (const p of plots) p.redraw(false);
  });
  new ResizeObserver(() => {
    for (const p of plots) {
      if (p.width !== holder.clientWidth) p.setSize({ width: holder.clientWidth, height: p.height });
    }
  }).observe(holder);
  start();
})();
