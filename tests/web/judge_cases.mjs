// Lays takes that are given as frames before the pack's judge, and prints its verdicts as JSON.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [folder, list] = process.argv.slice(2);
const { judge } = await import(pathToFileURL(`${folder}/hearing.js`).href);
const out = [];
for (const { notes, options, frames } of JSON.parse(readFileSync(list, "utf8"))) {
  const given = frames.map(([t, hz, clarity, level]) => ({ t, hz, clarity, level, peak: 0.3 }));
  const began = performance.now();
  const verdict = judge(given, notes, options);
  out.push({ ...verdict, degrees: [...verdict.degrees], milliseconds: performance.now() - began });
}
process.stdout.write(JSON.stringify(out));
