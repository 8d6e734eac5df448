// Chooses the instants of a scale of time.
"use strict";

/**
 * Whole steps of the shop's clock, at most so many.
 * @param {number} from s since 1970
 * @param {number} to s since 1970
 * @param {number} zone of the shop over UTC, s
 * @param {number} most
 */
function instants(from, to, zone, most) {
  const steps = [300, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800, 1209600, 2629800, 7889400, 15778800, 31557600];
  const step = steps.find((s) => (to - from) / s <= most) || 63115200;
  const out = [];
  for (let t = Math.ceil((from + zone) / step) * step - zone; t <= to; t += step) out.push(t);
  return out;
}
