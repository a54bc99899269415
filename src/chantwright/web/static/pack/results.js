/**
 * Results: kept in this browser alone, said in sentences, and written as a short text that a singer
 * may hand to the teacher.
 */

import { printed } from "./line.js";

/** @typedef {import("./hearing.js").Verdict} Verdict */
/** @typedef {import("./player.js").HymnData} HymnData */

/**
 * @typedef {object} Kept
 * @property {string} hymn
 * @property {string} title
 * @property {string} sung ISO 8601, UTC
 * @property {number} notes
 * @property {number} wrong
 * @property {number} skipped
 * @property {number} off
 * @property {number} drift
 * @property {number} shift
 * @property {[string, number][]} degrees
 */

/** What to say when the drone is heard. */
export const EARPHONES =
  "The drone is in your microphone. Use earphones, or turn it down while you sing.";

const PLACE = "chantwright results";
const NAME = "chantwright singer";
const MOST = 200;

/**
 * What this browser keeps under a name, after keeping a new text there. A browser that keeps nothing
 * still sings.
 * @param {string} key
 * @param {string} [text]
 */
export function remembered(key, text) {
  try {
    if (text !== undefined) localStorage.setItem(key, text);
    return localStorage.getItem(key) ?? "";
  } catch {
    return text ?? "";
  }
}

/** @returns {Kept[]} */
export function allKept() {
  try {
    const found = JSON.parse(remembered(PLACE));
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

/** @param {Kept} result */
export function keep(result) {
  remembered(PLACE, JSON.stringify([...allKept(), result].slice(-MOST)));
}

export function forget() {
  try {
    localStorage.removeItem(PLACE);
    localStorage.removeItem(NAME);
  } catch {
    // Nothing was kept.
  }
}

/** @param {string} [name] a new one */
export const nickname = (name) => remembered(NAME, name);

/**
 * @param {Verdict} verdict
 * @param {HymnData} data
 * @returns {Kept}
 */
export function resultOf(verdict, data) {
  const states = verdict.notes.map((n) => n.state);
  return {
    hymn: data.file,
    title: data.title,
    sung: new Date().toISOString().replace(/\.\d+Z$/, "Z"),
    notes: verdict.notes.length,
    wrong: states.filter((s) => s === "high" || s === "low").length,
    skipped: states.filter((s) => s === "left out").length,
    off: verdict.off,
    drift: verdict.drift,
    shift: verdict.shift,
    degrees: [...verdict.degrees],
  };
}

/** @param {string} text */
export function checkSum(text) {
  let sum = 0xffffffff;
  for (const octet of new TextEncoder().encode(text)) {
    sum ^= octet;
    for (let bit = 0; bit < 8; bit++) sum = (sum >>> 1) ^ (sum & 1 ? 0xedb88320 : 0);
  }
  return (~sum >>> 0).toString(16).padStart(8, "0");
}

/** @param {string} text */
const oneLine = (text) => text.replace(/\s+/g, " ").trim();

/**
 * @param {Kept} result
 * @param {string} singer
 */
export function handinText(result, singer) {
  const degrees = result.degrees.map(([name, off]) => `${name} ${off.toFixed(2)}`).join(", ");
  const { notes, wrong, skipped } = result;
  /** @type {[string, string | number][]} */
  const rows = [
    ["singer", oneLine(singer)],
    ["hymn", oneLine(result.hymn)],
    ["title", oneLine(result.title)],
    ...Object.entries({ sung: result.sung, notes, wrong, skipped }),
    ["off", result.off.toFixed(2)],
    ["drift", result.drift.toFixed(2)],
    ["shift", result.shift.toFixed(2)],
    ["degrees", degrees],
  ];
  const lines = ["chantwright result 1", ...rows.map((row) => row.join(": ").trimEnd())];
  const body = lines.join("\n");
  return `${body}\ncheck: ${checkSum(body)}\n`;
}

/** @type {Record<string, string>} */
const NOT_HEARD = {
  nothing: "no singing reached the microphone.",
  soft: "it was too soft. Come nearer to the microphone.",
  drone: "only the drone reached the microphone. Use earphones, or turn the drone down.",
  "one note": "only one note came through.",
  talking: "that was more like talking than singing.",
  other: "this hymn could not be recognised in what you sang.",
};

/** @param {number} moria */
function amount(moria) {
  const size = Math.round(Math.abs(moria));
  return `${size} ${size === 1 ? "morion" : "moria"}`;
}

/**
 * @param {Verdict} verdict
 * @param {HymnData} data
 * @returns {{sum: string, more: string[]}}
 */
export function sentences(verdict, data) {
  const more = [];
  if (verdict.leaking) more.push(EARPHONES);
  if (verdict.clipped) more.push("Much too loud for the microphone: hold it further away.");
  if (!verdict.heard) return { sum: `Not heard: ${NOT_HEARD[verdict.why]}`, more };
  if (verdict.level < -48) more.push("Very soft for the microphone: come a little nearer.");
  if (verdict.level > -9) more.push("Very loud. Sing softly; it is truer and does not tire you.");
  if (verdict.pushed) {
    more.push("The high notes were pushed. Take a lower pitch, and let them be light.");
  }
  const result = resultOf(verdict, data);
  const sung = result.notes - result.skipped;
  const parts = [`${sung - result.wrong} of ${result.notes} notes in place`];
  if (result.wrong) parts.push(`${result.wrong} off`);
  if (result.skipped) parts.push(`${result.skipped} not sung`);
  const half = Math.round(verdict.shift / 6);
  const octaves = Math.round(half / 12);
  const rest = half - 12 * octaves;
  if (rest) {
    const count = Math.abs(rest);
    const way = rest > 0 ? "higher" : "lower";
    more.push(`You sang ${count} half ${count === 1 ? "tone" : "tones"} ${way} than the recording; `
      + "that is no fault.");
  }
  if (Math.abs(verdict.drift) >= 2) {
    const way = verdict.drift > 0 ? "rose" : "sank";
    more.push(`Your pitch ${way} by ${amount(verdict.drift)} from beginning to end.`);
  }
  for (const [name, off] of verdict.degrees) {
    if (Math.abs(off) >= 1.5) {
      more.push(`${printed(name)} is ${amount(off)} too ${off > 0 ? "high" : "low"}, most of the time.`);
    }
  }
  return { sum: `${parts.join(", ")}.`, more };
}
