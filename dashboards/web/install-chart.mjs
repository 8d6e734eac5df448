// Copies the chart library from node_modules to the folder that the Go build
// embeds. Neither folder is committed.
import { copyFile, mkdir, rm } from "node:fs/promises";

const from = new URL("node_modules/uplot/", import.meta.url);
const to = new URL("../assets/lib/", import.meta.url);
const files = { "dist/uPlot.iife.min.js": "uPlot.iife.min.js", "dist/uPlot.min.css": "uPlot.min.css", LICENSE: "uPlot.LICENSE.txt" };

await rm(to, { recursive: true, force: true });
await mkdir(to, { recursive: true });
for (const [source, target] of Object.entries(files)) {
  await copyFile(new URL(source, from), new URL(target, to));
}
