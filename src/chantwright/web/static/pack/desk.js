/**
 * The controls of a hymn: they are of no use without scripts, so scripts make them, once for all
 * pages. A page without scripts keeps its words, its score and the browser's own player.
 */

/** @typedef {import("./player.js").HymnData} HymnData */

/**
 * @param {string} name class, and more attributes after it
 * @param {[string | number, string][]} rows value and text
 */
function choice(name, rows) {
  const made = rows.map(([value, text]) => `<option value="${value}">${text}</option>`);
  return `<select class="${name}">${made.join("")}</select>`;
}

/**
 * @param {string} name class
 * @param {string} text
 */
function button(name, text, more = "") {
  return `<button class="${name}"${more}>${text}</button> `;
}

const UP = ' aria-pressed="false"';
/** @type {[number, string][]} */
const PACES = [100, 90, 80, 75, 70, 60, 50].map((pace) => [pace, `${pace} %`]);
/** @type {[number, string][]} */
const SHIFTS = [
  [-24, "four half tones lower"], [-12, "a tone lower"], [-6, "half a tone lower"],
  [0, "as recorded"], [6, "half a tone higher"], [12, "a tone higher"],
  [24, "four half tones higher"],
];

const PLAYING = `<section class="desk" aria-label="Recording"><div class="row">
${button("play main", "Play", UP)}${button("intone", "Intonation")}${button("drone", "Drone", UP)}</div>
<label class="wide"><span>Place</span> <input type="range" class="place" min="0" step="0.1" value="0" aria-label="Place in the recording"> <span class="clock"></span></label>
<details class="more"><summary>Pace, phrases, drone</summary><div class="row">
<label>Sung ${choice("mode", [["full", "straight through"], ["echo", "led, with room to answer"]])}</label>
<label>Pace ${choice("pace", PACES)}</label>
<label>Phrase <select class="phrase"></select></label>
${button("again", "Phrase again")}</div><div class="row">
<label>Drone ${choice('moving" aria-label="What the drone does', [["follow", "follows the ison"], ["hold", "holds the base"]])}</label>
<label>Loudness <input type="range" class="loudness" min="0" max="100" value="40" aria-label="Loudness of the drone"></label>
<label>Pitch ${choice('shift" aria-label="Pitch of the drone', SHIFTS)}</label></div></details>
<p class="fault" role="alert"></p></section>`;

const SINGING = `<section class="sing" aria-label="Sing it"><h2>Sing it</h2>
<p class="soft">The page listens: under the words it pencils each note, on the dotted line where it was true, above it where high, below where low. What you sing never leaves this device. Earphones are best. Take the note from the intonation or the drone, then begin when you like.</p>
<div class="strip"><svg class="rungs" aria-hidden="true"></svg><div>${button("listen main", "Listen to me", UP)}<p class="heard" role="status"></p></div></div>
<p class="warn" role="alert"></p>
<div class="verdict" role="region" aria-label="How it was" aria-live="polite"></div>
<details class="past"><summary>Earlier times</summary><ul></ul></details>
<details class="handin"><summary>Hand it to your teacher</summary>
<p>Nothing is sent by itself. Copy this text into a message, or keep it as a file and give that.</p>
<label>Your nickname <input type="text" class="singer" maxlength="40" autocomplete="off"></label>
<textarea class="text" rows="8" readonly aria-label="Result to hand in"></textarea>
<div class="row">${button("copy", "Copy")}${button("save", "Keep as a file")}${button("forget", "Forget all my results")}</div></details></section>`;

/**
 * @param {HTMLElement} article
 * @param {HymnData} data
 */
export function furnish(article, data) {
  const score = /** @type {HTMLElement} */ (article.querySelector(".score"));
  const readings = ["staff", "neumes", "letters"].map((name) =>
    `<label><input type="radio" name="${data.id}-reading" value="${name}"> ${name}</label>`);
  score.insertAdjacentHTML("beforebegin", `${PLAYING}
<fieldset class="readings"><legend>Read from</legend>${readings.join("")}</fieldset>`);
  score.insertAdjacentHTML("afterend", SINGING);
  const phrases = /** @type {HTMLElement} */ (article.querySelector(".phrase"));
  data.phrases.forEach(([id, words], i) => {
    const short = words.length > 28 ? words.slice(0, 27).trim() + "…" : words;
    phrases.append(new Option(`${i + 1}. ${short}`, id));
  });
}
