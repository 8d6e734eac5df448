// Draws the alerts of a room's history into their lane, as the server's own
// drawing does: a shape for how grave, a letter, and a bar until it was over.
"use strict";

/**
 * @param {Plot} u
 * @param {ToldAlert[]} alerts
 * @param {number} now s since 1970
 * @param {(name: string) => string} colour
 */
function drawAlerts(u, alerts, now, colour) {
  const { ctx } = u;
  const dot = devicePixelRatio;
  const { left, top, width, height } = u.bbox;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left - 9 * dot, top, width + 18 * dot, height);
  ctx.clip();
  ctx.font = `600 ${12 * dot}px sans-serif`;
  ctx.strokeStyle = colour("warn");
  ctx.lineWidth = 2 * dot;
  ctx.lineJoin = "round";
  for (const alert of alerts) {
    const from = u.valToPos(alert.from_unix_s, "x", true);
    const to = u.valToPos(alert.to_unix_s ?? now, "x", true);
    if (to < left || from > left + width) continue;
    const y = top + alert.row * 24 * dot;
    const start = Math.max(from, left);
    ctx.fillStyle = colour("warn");
    ctx.fillRect(start, y + 18 * dot, Math.min(to, left + width) - start, 3 * dot);
    if (alert.to_unix_s && to > from) ctx.fillRect(to - dot, y + 14 * dot, 2 * dot, 9 * dot);
    if (from >= left) drawSeverity(ctx, alert.severity, [from, y], colour);
    ctx.fillStyle = colour("ink");
    ctx.fillText(alert.mark, start + (from >= left ? 11 : 2) * dot, y + 14 * dot);
  }
  ctx.restore();
}

/**
 * @param {CanvasRenderingContext2D} ctx
 * @param {ToldAlert["severity"]} severity
 * @param {[number, number]} at
 * @param {(name: string) => string} colour
 */
function drawSeverity(ctx, severity, [x, y], colour) {
  const dot = devicePixelRatio;
  ctx.fillStyle = colour(severity === "critical" ? "warn" : "paper");
  ctx.beginPath();
  if (severity === "info") {
    ctx.arc(x, y + 9 * dot, 5 * dot, 0, 2 * Math.PI);
  } else {
    ctx.moveTo(x, y + 2 * dot);
    ctx.lineTo(x + 7 * dot, y + 14 * dot);
    ctx.lineTo(x - 7 * dot, y + 14 * dot);
    ctx.closePath();
  }
  ctx.fill();
  ctx.stroke();
}

/**
 * What stood at an instant, in words; an alert that is told once, near it.
 * @param {ToldAlert[]} alerts
 * @param {number} at s since 1970
 * @param {number} length of what is shown, s
 */
function alertsAt(alerts, at, length) {
  const near = length / 100;
  const stood = alerts.filter((a) => a.from_unix_s <= at + near && (a.to_unix_s ?? Infinity) >= at - near);
  return stood.map((a) => ` Alert${a.mark && ` ${a.mark}`}: ${a.title.replace(/\.$/, "")}.`).join("");
}
