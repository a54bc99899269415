// Reads takes (raw float32 at a rate) through the pack's own pitch core and judge, and prints JSON.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [folder, list] = process.argv.slice(2);
const { PitchFollower } = await import(pathToFileURL(`${folder}/pitch.js`).href);
const { judge } = await import(pathToFileURL(`${folder}/hearing.js`).href);
const out = [];
for (const take of JSON.parse(readFileSync(list, "utf8"))) {
  const octets = readFileSync(take.file);
  const samples = new Float32Array(octets.buffer, octets.byteOffset, octets.byteLength / 4);
  const follower = new PitchFollower(take.rate);
  const frames = [];
  for (let at = 0; at < samples.length; at += 128) {
    frames.push(...follower.push(samples.subarray(at, at + 128)));
  }
  const began = performance.now();
  const verdict = take.notes ? judge(frames, take.notes, take.options) : null;
  const row = { name: take.name, milliseconds: performance.now() - began };
  if (take.trace) row.trace = frames.map((f) => [f.t, f.hz, f.clarity, f.level]);
  if (verdict) row.verdict = { ...verdict, degrees: [...verdict.degrees] };
  out.push(row);
}
process.stdout.write(JSON.stringify(out));
