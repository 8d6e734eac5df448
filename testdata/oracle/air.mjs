// Answers, for pairs of temperature (°C) and relative humidity (%) given as a
// JSON array on standard input, with what psychrolib makes of them at standard
// pressure.
import psychrolib from "psychrolib";
import { readFileSync } from "node:fs";

const pressure = 101325;
psychrolib.SetUnitSystem(psychrolib.SI);
const answers = JSON.parse(readFileSync(0, "utf8")).map(([t, rh]) => ({
  dew_point_c: psychrolib.GetTDewPointFromRelHum(t, rh / 100),
  wet_bulb_c: psychrolib.GetTWetBulbFromRelHum(t, rh / 100, pressure),
  vapour_pressure_hpa: psychrolib.GetVapPresFromRelHum(t, rh / 100) / 100,
  humidity_ratio_g_kg: 1000 * psychrolib.GetHumRatioFromRelHum(t, rh / 100, pressure),
}));
console.log(JSON.stringify(answers));
