// Chooses the instants of a scale of time, and tells them.
"use strict";

/** @type {Record<"hour" | "day" | "month" | "year" | "instant" | "date", TimeForm>} */
const timeForms = {
  hour: { hour: "2-digit", minute: "2-digit" },
  day: { weekday: "short", day: "numeric" },
  month: { day: "numeric", month: "short" },
  year: { month: "short", year: "numeric" },
  instant: { weekday: "short", day: "numeric", hour: "2-digit", minute: "2-digit" },
  date: { day: "numeric", month: "short", year: "numeric" },
};

/** @type {Map<TimeForm, Intl.DateTimeFormat>} */
const timeFormats = new Map(); // making one takes longer than drawing the chart

/**
 * Instants are moved by the shop's offset and then read as UTC, so that the
 * chart tells the shop's time on any phone.
 * @param {number} t s since 1970
 * @param {TimeForm} form one of timeForms
 * @param {RoomHistory} shop
 */
function shopTime(t, form, shop) {
  const kept = timeFormats.get(form) ?? new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", hour12: shop.clock_12h, ...form });
  timeFormats.set(form, kept);
  return kept.format((t + shop.zone_offset_s) * 1000);
}

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
