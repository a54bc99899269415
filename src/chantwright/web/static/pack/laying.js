/**
 * A take laid along the notes of a hymn: the best path through a chain of notes with lengths, where
 * notes may be left out, a phrase left out or sung again, a breath taken, and a note sung on a pitch
 * that is not written. Pure: runs in a page and in Node.
 *
 * Conventions: frames of 20 ms; a boundary t stands before frame t; moria above the singer's own
 * moria 0, NaN where nothing was sung. Scores are natural log likelihoods up to a constant.
 *
 * Reference: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), section
 * IV.D (explicit lengths of states).
 */

/** @typedef {import("./chain.js").Asked} Asked */

/**
 * @typedef {object} Span
 * @property {number} note place in the hymn
 * @property {number} from boundary
 * @property {number} to boundary
 * @property {boolean} free sung on another pitch
 */

export const FRAME = 0.02;
const NEVER = -1e9;
const SHORTEST = 3;
const LONGEST = 350;
const SPREAD = 2.2;
const CEILING = 5;
const WORTH = 0.25;
const UNVOICED = 0.25;
const SWAY = 0.2;
const SWAY_LAST = 0.4;
const BREATH = 0.3;
const REST = 2.5;
const VOICE_IN_REST = 0.9;
const BEFORE = 0.35;
const SKIP = 5;
const SKIP_MORE = 2.5;
const SKIPS = 3;
const JUMP = 6;
const JUMP_AMID = 5;
const PART = 3;
const WRONG = 7;
const GRID = 2;
const CLOSELY = 40;
const BEYOND = 14;
const EDGE = 2;
const BEAM = 80;

/**
 * Evidence at each boundary that a syllable begins: after a consonant, a breath or a dip.
 * @param {Float64Array} pitch
 * @param {Float64Array} level dBFS
 */
export function onsets(pitch, level) {
  const size = pitch.length;
  const found = new Float64Array(size + 1).fill(-0.4);
  found[0] = 0;
  for (let t = 1; t < size; t++) {
    const silent = Number.isNaN(pitch[t - 1]);
    if (silent !== Number.isNaN(pitch[t])) found[t] = 2;
    else if (!silent) {
      let loud = -200;
      for (let k = Math.max(0, t - 5); k < Math.min(size, t + 6); k++) loud = Math.max(loud, level[k]);
      if (level[t] < loud - 6 && level[t] <= level[t - 1]) found[t] = 1;
    }
  }
  return found;
}

/** The search. */
class Search {
  /**
   * @param {Float64Array} pitch
   * @param {Float64Array} onset
   * @param {Asked[]} notes
   * @param {number} beat frames
   * @param {boolean} freely whether notes may be sung on other pitches
   */
  constructor(pitch, onset, notes, beat, freely) {
    const count = notes.length;
    const frames = pitch.length;
    this.pitch = pitch;
    this.onset = onset;
    this.notes = notes;
    this.count = count;
    this.frames = frames;
    this.starts = notes.map((n, j) => j === 0 || notes[j - 1].phrase !== n.phrase);
    this.lasts = notes.map((_, j) => j === count - 1 || this.starts[j + 1]);
    /** Whether a syllable begins with a note. */
    this.fresh = notes.map((n, j) =>
      j === 0 || n.syllable === undefined || n.syllable !== notes[j - 1].syllable);
    const lengths = notes.map((n) => n.beats * beat);
    /** Longest length of each note. */
    this.most = lengths.map((l, j) =>
      Math.min(LONGEST, frames, Math.ceil(Math.max(10, l * (this.lasts[j] ? 2.5 : 1.9)))));
    this.longest = Math.max(...this.most);
    this.least = lengths.map((l) => Math.max(SHORTEST, Math.floor(0.35 * l)));
    /** Last boundary at which each note may have begun. */
    this.begun = new Int32Array(count).fill(-LONGEST);
    /** Price of each length of each note. */
    this.price = lengths.map((l, j) => {
      const sway = this.lasts[j] ? SWAY_LAST : SWAY;
      const out = new Float64Array(this.most[j] + 1);
      for (let d = 1; d < out.length; d++) out[d] = -0.5 * (Math.log(d / l) / sway) ** 2;
      return out;
    });
    const moria = notes.map((n) => n.moria);
    /** Summed cost of each pitch of the hymn. */
    this.total = moria.map((m, j) => {
      const same = moria.indexOf(m);
      return same < j ? null : this.summed(m);
    });
    this.same = moria.map((m) => moria.indexOf(m));
    this.charge = new Float64Array(frames + 2);
    for (let t = 0; t <= frames; t++) {
      // A consonant has two edges, and is charged once.
      this.charge[t + 1] = this.charge[t] + Math.max(0, onset[t]) * 0.4;
    }
    const low = Math.min(...moria) - BEYOND;
    this.free = this.freely(low, freely ? Math.max(...moria) + BEYOND : low - 1);
    const cells = (frames + 1) * count;
    /** Best score with which each note begins at each boundary. */
    this.entered = notes.map(() => new Float32Array(frames + 1).fill(NEVER));
    this.ended = new Float32Array(cells).fill(NEVER);
    this.length = new Int16Array(cells);
    this.wild = new Uint8Array(cells);
    this.from = new Int16Array(cells).fill(-1);
    /** Boundary at which the note before ended. */
    this.left = new Int32Array(cells);
  }

  /** @param {number} moria */
  summed(moria) {
    const { pitch } = this;
    const out = new Float64Array(pitch.length + 1);
    for (let t = 0; t < pitch.length; t++) {
      const off = (pitch[t] - moria) / SPREAD;
      const cost = Number.isNaN(off) ? UNVOICED : WORTH * Math.min(CEILING, 0.5 * off * off);
      out[t + 1] = out[t] - cost;
    }
    return out;
  }

  /**
   * Best score of every stretch at any one pitch, `longest` lengths for each boundary.
   * @param {number} low
   * @param {number} high
   */
  freely(low, high) {
    const { frames, longest } = this;
    const out = new Float32Array((frames + 1) * (longest + 1)).fill(NEVER);
    for (let moria = low; moria <= high; moria += GRID) {
      const total = this.summed(moria);
      for (let t = SHORTEST; t <= frames; t++) {
        const row = t * (longest + 1);
        const most = Math.min(longest, t);
        for (let d = SHORTEST; d <= most; d += d < CLOSELY ? 1 : 2) {
          const score = total[t] - total[t - d];
          if (score > out[row + d]) out[row + d] = score;
        }
      }
    }
    return out;
  }

  /**
   * Best way to end each note at a boundary.
   * @param {number} t
   */
  end(t) {
    const { count, entered, charge, longest, free } = this;
    const row = t * (longest + 1);
    for (let j = 0; j < count; j++) {
      const most = Math.min(this.most[j], t);
      if (t - this.begun[j] > most) continue;
      const total = /** @type {Float64Array} */ (this.total[this.same[j]]);
      const price = this.price[j];
      const begun = entered[j];
      let best = NEVER;
      let length = 0;
      let wild = 0;
      for (let d = this.least[j]; d <= most; d++) {
        let score = begun[t - d] + price[d];
        // All that follows is cost.
        if (score <= best) continue;
        if (d > 2 * EDGE) score -= charge[t - EDGE + 1] - charge[t - d + EDGE];
        const tame = score + total[t] - total[t - d];
        if (tame > best) {
          best = tame;
          length = d;
          wild = 0;
        }
        if (score - WRONG <= best) continue;
        const other = score + free[row + (d < CLOSELY ? d : d & -2)] - WRONG;
        if (other > best) {
          best = other;
          length = d;
          wild = 1;
        }
      }
      this.ended[t * count + j] = best;
      this.length[t * count + j] = length;
      this.wild[t * count + j] = wild;
    }
  }

  run() {
    const { count, frames, pitch, ended, onset, starts, lasts } = this;
    const rested = new Float64Array(count).fill(NEVER);
    const since = new Int32Array(count);
    const best = new Float64Array(count);
    let opening = 0;
    for (let t = 0; t <= frames; t++) {
      if (t >= SHORTEST) this.end(t);
      const silence = t > 0 && !Number.isNaN(pitch[t - 1]) ? VOICE_IN_REST : 0;
      if (silence) opening -= BEFORE;
      let far = 0;
      for (let j = 0; j < count; j++) {
        rested[j] -= silence;
        const fresh = ended[t * count + j] - (lasts[j] ? BREATH : REST);
        if (fresh > rested[j]) {
          rested[j] = fresh;
          since[j] = t;
        }
        best[j] = Math.max(rested[j], ended[t * count + j]);
        if (best[j] - (lasts[j] ? 0 : JUMP_AMID) > best[far] - (lasts[far] ? 0 : JUMP_AMID)) far = j;
      }
      const anywhere = best[far] - JUMP - (lasts[far] ? 0 : JUMP_AMID);
      const floor = Math.max(opening, anywhere, best[far]) - BEAM;
      for (let j = 0; j < count; j++) {
        let score = opening - this.late(j);
        let source = -1;
        for (let back = 1; back <= SKIPS + 1 && back <= j; back++) {
          const skip = back > 1 ? SKIP + (back - 2) * SKIP_MORE : 0;
          if (best[j - back] - skip > score) {
            score = best[j - back] - skip;
            source = j - back;
          }
        }
        if (starts[j] && anywhere > score) {
          score = anywhere;
          source = far;
        }
        // What is far behind the best will not win any more.
        if (score < floor) continue;
        const cell = t * count + j;
        this.begun[j] = t;
        this.entered[j][t] = score + (this.fresh[j] ? onset[t] : 0);
        this.from[cell] = source;
        if (source >= 0) this.left[cell] = rested[source] > ended[t * count + source] ? since[source] : t;
      }
    }
  }

  /**
   * Price of beginning with a note.
   * @param {number} j
   */
  late(j) {
    if (j === 0) return 0;
    const skipped = SKIP + (j - 1) * SKIP_MORE;
    return Math.min(skipped, this.starts[j] ? PART : PART + SKIP);
  }

  /**
   * Price of closing with a note.
   * @param {number} j
   */
  early(j) {
    const missing = this.count - 1 - j;
    if (!missing) return 0;
    return Math.min(SKIP + (missing - 1) * SKIP_MORE, this.lasts[j] ? PART : PART + SKIP);
  }

  /** @returns {Span[]} */
  path() {
    const { count, frames, pitch, ended } = this;
    let best = NEVER;
    let at = 0;
    let note = 0;
    let after = 0;
    for (let t = frames; t >= SHORTEST; t--) {
      if (t < frames && !Number.isNaN(pitch[t])) after -= VOICE_IN_REST;
      for (let j = 0; j < count; j++) {
        const score = ended[t * count + j] + after - this.early(j);
        if (score > best) {
          best = score;
          at = t;
          note = j;
        }
      }
    }
    /** @type {Span[]} */
    const out = [];
    while (best > NEVER / 2) {
      const cell = at * count + note;
      const from = at - this.length[cell];
      out.push({ note, from, to: at, free: this.wild[cell] === 1 });
      const entry = from * count + note;
      if (this.from[entry] < 0) break;
      at = this.left[entry];
      note = this.from[entry];
    }
    return out.reverse();
  }
}

/**
 * @param {Float64Array} pitch
 * @param {Float64Array} onset
 * @param {Asked[]} notes
 * @param {number} beat frames
 * @param {boolean} freely whether notes may be sung on pitches that are not written
 * @returns {Span[]} in order of time
 */
export function laidAlong(pitch, onset, notes, beat, freely) {
  if (pitch.length < SHORTEST + 1) return [];
  const search = new Search(pitch, onset, notes, beat, freely);
  search.run();
  return search.path();
}
