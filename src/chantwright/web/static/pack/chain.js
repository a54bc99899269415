/**
 * The hymn as a chain of note states, and the best path of a line through it, with moves that leave
 * notes out, leave a phrase out or sing one again; the singer's own pitch (the shift) is searched
 * for. And the follower that says live where a singer is.
 *
 * Reference: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for the
 * best path through a chain of states.
 */
import { median, OCTAVE, toMoria } from "./line.js";

/** @typedef {import("./pitch.js").Frame} Frame */

export const STEP = 4;
const CAP = 8;
const SKIP = 26;
const JUMP = 90;
const SHORTEST = 0.35;

/**
 * @typedef {object} Options
 * @property {number} zeroHz pitch of moria 0 in the recording
 * @property {number} tempo beats a minute of the recording
 * @property {number} limit moria that a note may be off
 * @property {number[]} [drones] Hz that a drone which is sounding may have
 */

/**
 * @typedef {object} Asked
 * @property {string} id
 * @property {string} phrase
 * @property {string} [syllable]
 * @property {string} name of its degree
 * @property {number} moria
 * @property {number} beats
 */

/**
 * Notes of one pitch that follow each other are one state: pitch alone cannot tell them apart.
 * @typedef {object} Group
 * @property {number} moria
 * @property {number} beats
 * @property {number[]} members places in the hymn
 * @property {boolean} begins a phrase begins with it
 */

/**
 * @param {Asked[]} notes
 * @returns {Group[]}
 */
export function grouped(notes) {
  /** @type {Group[]} */
  const out = [];
  notes.forEach((note, i) => {
    const begins = i === 0 || notes[i - 1].phrase !== note.phrase;
    const last = out[out.length - 1];
    if (last && !begins && Math.abs(last.moria - note.moria) < 0.05) {
      last.beats += note.beats;
      last.members.push(i);
    } else {
      out.push({ moria: note.moria, beats: note.beats, members: [i], begins });
    }
  });
  return out;
}

/** A chain of states, some for each group, so that every note lasts a least time. */
export class Chain {
  /**
   * @param {Group[]} groups
   * @param {number} framesPerBeat
   */
  constructor(groups, framesPerBeat) {
    this.groups = groups;
    /** @type {number[]} */
    this.first = [];
    /** @type {number[]} */
    this.last = [];
    /** @type {number[]} */
    const group = [];
    for (let j = 0; j < groups.length; j++) {
      const least = Math.max(1, Math.round(SHORTEST * groups[j].beats * framesPerBeat));
      this.first.push(group.length);
      for (let k = 0; k < least; k++) group.push(j);
      this.last.push(group.length - 1);
    }
    this.group = Int32Array.from(group);
    this.size = group.length;
    this.cost = new Float64Array(this.size);
    this.next = new Float64Array(this.size);
    this.from = new Int32Array(this.size);
    this.emission = new Float64Array(groups.length);
    this.started = false;
  }

  /**
   * Take one more frame in.
   * @param {number} moria
   * @param {number} shift
   */
  push(moria, shift) {
    const { groups, first, last, group, cost, next, from, emission } = this;
    for (let j = 0; j < groups.length; j++) {
      const off = Math.abs(moria - shift - groups[j].moria);
      emission[j] = off < CAP ? off : CAP;
    }
    if (!this.started) {
      this.started = true;
      next.fill(Infinity);
      from.fill(-1);
      for (let j = 0; j < groups.length; j++) {
        const late = j === 0 ? 0 : groups[j].begins ? JUMP / 2 : j < 3 ? SKIP * j : Infinity;
        next[first[j]] = emission[j] + late;
      }
    } else {
      let ended = 0;
      for (let j = 1; j < groups.length; j++) if (cost[last[j]] < cost[last[ended]]) ended = j;
      const anywhere = cost[last[ended]] + JUMP;
      for (let s = 0; s < this.size; s++) {
        const j = group[s];
        let best = s === last[j] ? cost[s] : Infinity;
        let before = s;
        if (s > first[j]) {
          if (cost[s - 1] < best) {
            best = cost[s - 1];
            before = s - 1;
          }
        } else {
          for (let back = 1; back <= 3 && back <= j; back++) {
            const there = last[j - back];
            const price = cost[there] + (back - 1) * SKIP;
            if (price < best) {
              best = price;
              before = there;
            }
          }
          if (groups[j].begins && anywhere < best) {
            best = anywhere;
            before = last[ended];
          }
        }
        next[s] = best + emission[j];
        from[s] = before;
      }
    }
    this.cost = next;
    this.next = cost;
  }

  /** Best state at this moment. */
  best() {
    let at = 0;
    for (let s = 1; s < this.size; s++) if (this.cost[s] < this.cost[at]) at = s;
    return at;
  }
}

/**
 * @param {Group[]} groups
 * @param {number[]} line moria, `STEP` frames apart
 * @param {number} shift
 * @param {number} framesPerBeat
 * @param {boolean} trace
 * @returns {{cost: number, path: Int32Array}} path: group of each frame
 */
export function laid(groups, line, shift, framesPerBeat, trace) {
  const chain = new Chain(groups, framesPerBeat);
  const size = chain.size;
  const back = trace ? new Int32Array(line.length * size) : null;
  line.forEach((moria, t) => {
    chain.push(moria, shift);
    if (back) back.set(chain.from, t * size);
  });
  let at = chain.best();
  const cost = chain.cost[at] / Math.max(1, line.length);
  const path = new Int32Array(trace ? line.length : 0);
  if (back) {
    for (let t = line.length - 1; t >= 0; t--) {
      path[t] = chain.group[at];
      at = back[t * size + at];
    }
  }
  return { cost, path };
}

/**
 * Shifts at which the singer's pitches and the hymn's fall together, the likeliest first.
 * @param {Group[]} groups
 * @param {number[]} line
 * @returns {number[]}
 */
export function likelyShifts(groups, line) {
  const reach = 120;
  const width = 2;
  const low = Math.floor(Math.min(...groups.map((g) => g.moria))) - 8;
  const high = Math.ceil(Math.max(...groups.map((g) => g.moria))) + 8;
  const asked = new Float64Array(high - low + 1);
  for (const g of groups) {
    for (let d = -6; d <= 6; d++) {
      const at = Math.round(g.moria) + d - low;
      asked[at] += g.beats * Math.exp(-0.5 * (d / width) ** 2);
    }
  }
  /** @type {Map<number, number>} */
  const sung = new Map();
  for (const moria of line) sung.set(Math.round(moria), (sung.get(Math.round(moria)) ?? 0) + 1);
  /** @type {number[]} */
  const fit = [];
  for (let shift = -reach; shift <= reach; shift++) {
    let sum = 0;
    // A root keeps one long note from ruling.
    for (const [moria, count] of sung) {
      const at = moria - shift - low;
      if (at >= 0 && at < asked.length) sum += Math.sqrt(count) * Math.sqrt(asked[at]);
    }
    fit.push(sum);
  }
  const found = [];
  for (let i = 0; i < fit.length; i++) {
    const left = fit[i - 1] ?? 0;
    const right = fit[i + 1] ?? 0;
    if (fit[i] >= left && fit[i] > right) found.push([fit[i], i - reach]);
  }
  found.sort((a, b) => b[0] - a[0]);
  return found.slice(0, 16).map(([, shift]) => shift);
}

/** Follows a singer as they sing: where they most likely are in the hymn. */
export class Tracker {
  /**
   * @param {Asked[]} notes
   * @param {Options} options
   */
  constructor(notes, options) {
    this.groups = grouped(notes);
    this.notes = notes;
    this.zeroHz = options.zeroHz;
    this.beat = 60 / options.tempo;
    this.chain = new Chain(this.groups, this.beat / (STEP * 0.01));
    this.octave = 0;
    /** @type {number[]} */
    this.lately = [];
    this.count = 0;
    this.group = -1;
    this.since = 0;
  }

  /**
   * @param {Frame} frame a voiced one
   * @returns {{moria: number, place: number, share: number}} moria against the recording's pitch in
   *   the singer's octave, place of the note, share of it that is over
   */
  push(frame) {
    const raw = toMoria(frame.hz, this.zeroHz);
    this.lately.push(raw);
    if (this.lately.length > 19) this.lately.shift();
    const low = Math.min(...this.groups.map((g) => g.moria));
    const high = Math.max(...this.groups.map((g) => g.moria));
    if (this.count < 60) {
      this.octave = OCTAVE * Math.round((median(this.lately) - (low + high) / 2) / OCTAVE);
    }
    const moria = median(this.lately) - this.octave;
    if (this.count % STEP === 0) {
      this.chain.push(moria, 0);
      const group = this.chain.group[this.chain.best()];
      if (group !== this.group) {
        this.group = group;
        this.since = frame.t;
      }
    }
    this.count += 1;
    const group = this.groups[this.group];
    const whole = group.beats * this.beat;
    const gone = Math.min(0.999, Math.max(0, (frame.t - this.since) / whole));
    let beats = gone * group.beats;
    let place = group.members[0];
    for (const member of group.members) {
      place = member;
      if (beats < this.notes[member].beats) break;
      beats -= this.notes[member].beats;
    }
    const share = Math.min(1, beats / this.notes[place].beats);
    return { moria: raw - this.octave, place, share };
  }
}
