/**
 * The pitch on which a note settled. A note is reached by a glide, and a short one is over before
 * its vibrato has turned once; so its level, those of its neighbours and one vibrato that runs
 * through all three are fitted together, least squares with outliers weighed down. Pure.
 *
 * Conventions: moria, frames of 10 ms, NaN where nothing was sung.
 *
 * Reference: P. J. Huber, "Robust estimation of a location parameter", Ann. Math. Statist. 35
 * (1964). Vibrato of 4.5 to 7 turns a second: E. Prame, J. Acoust. Soc. Am. 96 (1994).
 */

export const HOP = 0.01;
const HEAD = 6;
const TAIL = 2;
const REACH = 22;
const LONG = 45;
const SLACK = 0.8;
const LEAST = 3;
const LEAST_VIBRATO = 0.25;

/**
 * Solve a small symmetric system by elimination.
 * @param {number[][]} matrix changed
 * @param {number[]} right changed
 */
function solved(matrix, right) {
  const size = right.length;
  for (let k = 0; k < size; k++) {
    let top = k;
    for (let i = k + 1; i < size; i++) if (Math.abs(matrix[i][k]) > Math.abs(matrix[top][k])) top = i;
    [matrix[k], matrix[top]] = [matrix[top], matrix[k]];
    [right[k], right[top]] = [right[top], right[k]];
    for (let i = k + 1; i < size; i++) {
      const share = matrix[i][k] / matrix[k][k];
      for (let c = k; c < size; c++) matrix[i][c] -= share * matrix[k][c];
      right[i] -= share * right[k];
    }
  }
  for (let k = size - 1; k >= 0; k--) {
    for (let c = k + 1; c < size; c++) right[k] -= matrix[k][c] * right[c];
    right[k] /= matrix[k][k];
  }
  return right;
}

/**
 * Turns a second of the singer's vibrato; 0 when there is none to speak of.
 * @param {Float64Array} moria
 * @param {[number, number][]} stretches of long notes
 */
export function vibratoRate(moria, stretches) {
  let best = 0;
  let highest = 0;
  let weight = 0;
  /** @type {[number, number[]][]} */
  const parts = [];
  for (const [from, to] of stretches) {
    const part = [...moria.subarray(from + HEAD, to - TAIL)];
    if (part.length < LONG - HEAD || part.some(Number.isNaN)) continue;
    const mean = part.reduce((sum, m) => sum + m, 0) / part.length;
    parts.push([part.length, part.map((m) => m - mean)]);
    weight += part.length;
  }
  for (let rate = 4.5; rate <= 7; rate += 0.1) {
    let power = 0;
    for (const [size, part] of parts) {
      let re = 0;
      let im = 0;
      part.forEach((m, i) => {
        const taper = 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / size);
        re += taper * m * Math.cos(2 * Math.PI * rate * HOP * i);
        im += taper * m * Math.sin(2 * Math.PI * rate * HOP * i);
      });
      // A quarter of its size squared is what a sine of 1 gives under this taper.
      power += ((re * re + im * im) / (size * size / 16)) * size;
    }
    if (power > highest) {
      highest = power;
      best = rate;
    }
  }
  return weight && Math.sqrt(highest / weight) > LEAST_VIBRATO ? best : 0;
}

/**
 * @param {Float64Array} moria
 * @param {number} from first frame of the note
 * @param {number} to frame after its last
 * @param {number} before first frame of the note sung before it; `from` if there is none
 * @param {number} after frame after the last of the note sung after it; `to` if there is none
 * @param {number} rate of the vibrato, 0 for none
 * @returns {number} NaN where too little was sung
 */
export function settled(moria, from, to, before, after, rate) {
  const size = to - from;
  const head = Math.min(HEAD, size >> 2);
  const tail = Math.min(TAIL, size >> 3);
  /** @type {{i: number, part: number}[]} */
  let rows = [];
  /** @param {number} a @param {number} b @param {number} part */
  const take = (a, b, part) => {
    for (let i = Math.max(0, a); i < Math.min(b, moria.length); i++) {
      if (!Number.isNaN(moria[i])) rows.push({ i, part });
    }
  };
  take(from + head, to - tail, 0);
  if (rows.length < LEAST) {
    rows = [];
    take(from, to, 0);
  }
  if (rows.length < LEAST) return NaN;
  const parts = 1 + (rate ? 2 : 0);
  let width = parts;
  if (rate && size < LONG) {
    const own = rows.length;
    if (from - before > HEAD + LEAST) take(Math.max(before + HEAD, from - REACH), from - TAIL, width);
    if (rows.length > own) width += 1;
    const so = rows.length;
    if (after - to > HEAD + LEAST) take(to + HEAD, Math.min(after - TAIL, to + REACH), width);
    if (rows.length > so) width += 1;
  }
  const middle = (from + to) / 2;
  // A note without a whole turn of vibrato, alone, keeps to its mean.
  const turns = rate * HOP * (rows[rows.length - 1].i - rows[0].i);
  const waves = rate > 0 && rows.length > 2 * width && Math.abs(turns) > 0.7;
  const columns = rows.map(({ i, part }) => {
    const row = new Array(width).fill(0);
    row[part] = 1;
    if (waves) {
      row[1] = Math.cos(2 * Math.PI * rate * HOP * (i - middle));
      row[2] = Math.sin(2 * Math.PI * rate * HOP * (i - middle));
    } else if (rate) {
      row[1] = row[2] = 0;
    }
    return row;
  });
  const inner = rows.filter((r) => r.part === 0).map((r) => moria[r.i]).sort((a, b) => a - b);
  let answer = [inner[inner.length >> 1]];
  for (let round = 0; round < 5; round++) {
    const matrix = Array.from({ length: width }, (_, k) =>
      Array.from({ length: width }, (_, c) => (k === c ? 1e-6 : 0)));
    const right = new Array(width).fill(0);
    columns.forEach((row, n) => {
      const value = moria[rows[n].i];
      let off = 0;
      if (round) {
        off = Math.abs(value - row.reduce((sum, c, k) => sum + c * (answer[k] ?? 0), 0));
      } else if (rows[n].part === 0) off = Math.max(0, Math.abs(value - answer[0]) - 3);
      const weight = off > SLACK ? (SLACK / off) ** 2 : 1;
      for (let k = 0; k < width; k++) {
        right[k] += weight * row[k] * value;
        for (let c = 0; c < width; c++) matrix[k][c] += weight * row[k] * row[c];
      }
    });
    answer = solved(matrix, right);
  }
  return answer[0];
}
