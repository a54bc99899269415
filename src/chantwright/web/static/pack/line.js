/**
 * The line that was sung: pitches in moria, the gates that let only a voice through, and how steady
 * it is. Pure: runs in a page and in Node.
 *
 * Conventions: moria (72 to the octave), seconds, dBFS.
 */

/** @typedef {import("./pitch.js").Frame} Frame */

export const OCTAVE = 72;
export const SILENCE_FLOOR = -58;
const BELOW_OWN = 26;
const CLEAR = 0.84;

/** @param {number[]} values */
export function median(values) {
  if (!values.length) return NaN;
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

/**
 * @param {number[]} values
 * @param {number} share 0 to 1
 */
export function quantile(values, share) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.max(0, Math.round(share * (sorted.length - 1))))];
}

/**
 * A degree's name as it is printed: zo_ is the octave below, zo' the one above.
 * @param {string} name
 */
export function printed(name) {
  const text = name.charAt(0).toUpperCase() + name.slice(1);
  return text.replace("_", "\u02cc").replace("'", "\u02b9");
}

/**
 * @param {number} hz
 * @param {number} zeroHz
 */
export function toMoria(hz, zeroHz) {
  return OCTAVE * Math.log2(hz / zeroHz);
}

/**
 * Frames in which a voice may be sounding: clear, and not far below the singer's own level.
 * @param {Frame[]} frames
 * @returns {Frame[]}
 */
export function voiced(frames) {
  const clear = frames.filter((f) => f.hz > 0 && f.clarity >= CLEAR && f.level > SILENCE_FLOOR);
  if (!clear.length) return [];
  const own = quantile(clear.map((f) => f.level), 0.9);
  return clear.filter((f) => f.level > own - BELOW_OWN);
}

/**
 * Smooth a voice's pitch over about 180 ms, so that vibrato does not count as error. Breaks in the
 * voice are not smoothed over.
 * @param {Frame[]} frames
 * @param {number} zeroHz
 * @returns {{t: number, moria: number}[]}
 */
export function smoothed(frames, zeroHz) {
  const raw = frames.map((f) => toMoria(f.hz, zeroHz));
  return frames.map((frame, i) => {
    const near = [];
    for (let k = i; k >= 0 && frame.t - frames[k].t < 0.095; k--) near.push(raw[k]);
    for (let k = i + 1; k < raw.length && frames[k].t - frame.t < 0.095; k++) near.push(raw[k]);
    return { t: frame.t, moria: median(near) };
  });
}

/**
 * Share of the sung time that rests on a pitch: over a fifth of a second it stays within a narrow
 * band. Talking glides all the time.
 * @param {{t: number, moria: number}[]} line
 */
export function steadiness(line) {
  let steady = 0;
  for (let i = 0; i < line.length; i++) {
    let low = line[i].moria;
    let high = low;
    let k = i;
    for (; k < line.length && line[k].t - line[i].t < 0.16; k++) {
      low = Math.min(low, line[k].moria);
      high = Math.max(high, line[k].moria);
    }
    const whole = k < line.length && line[k].t - line[i].t < 0.2;
    if (whole && high - low < 1.6) steady += 1;
  }
  return line.length ? steady / line.length : 0;
}

/** Share of the frames above which the drone is said to be in the microphone. */
export const LEAKING = 0.12;

/**
 * Share of the frames in which a machine's drone sounds: its pitch, too steady for any throat.
 * @param {Frame[]} frames
 * @param {number[]} drones Hz
 */
export function droneShare(frames, drones) {
  let held = 0;
  frames.forEach((frame, i) => {
    const near = drones.some((hz) => {
      const off = OCTAVE * Math.log2(frame.hz / hz);
      return Math.abs(off - OCTAVE * Math.round(off / OCTAVE)) <= 1;
    });
    if (!near) return;
    const later = frames[Math.min(frames.length - 1, i + 12)];
    const moved = Math.abs(OCTAVE * Math.log2(later.hz / frame.hz));
    if (later.t - frame.t < 0.2 && moved < 0.12) held += 1;
  });
  return frames.length ? held / frames.length : 0;
}
