/**
 * What was sung, judged by alignment and never by the clock: the trace is laid along the notes of
 * the hymn by dynamic programming over a chain of note states, with moves that leave notes out,
 * leave a phrase out or sing one again. The singer's own pitch (the shift) is searched for.
 *
 * Conventions: moria (72 to the octave), seconds, dBFS. A shift is where the singer's moria 0 lies
 * against the recording's. Pure: runs in a page and in Node.
 *
 * Reference: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for the
 * best path through a chain of states.
 */

/** @typedef {import("./pitch.js").Frame} Frame */

/**
 * @typedef {object} Asked
 * @property {string} id
 * @property {string} phrase
 * @property {string} name of its degree
 * @property {number} moria
 * @property {number} beats
 */

/**
 * @typedef {object} Heard
 * @property {string} id
 * @property {string} state right, high, low or left out
 * @property {number} off moria from its place; 0 for a note left out
 * @property {number} start
 * @property {number} end
 */

/**
 * @typedef {object} Verdict
 * @property {boolean} heard
 * @property {string} why empty when it was heard; else nothing, soft, drone, one note, talking, other
 * @property {number} shift moria
 * @property {number} off median size of the notes' errors, moria
 * @property {number} drift moria from the first note to the last
 * @property {number} beat seconds
 * @property {Heard[]} notes in the order of the hymn
 * @property {Map<string, number>} degrees name to median error
 * @property {number} level dBFS, median
 * @property {boolean} clipped
 * @property {boolean} pushed high notes much louder than the others
 * @property {boolean} leaking the drone was in the microphone
 */

/**
 * @typedef {object} Options
 * @property {number} zeroHz pitch of moria 0 in the recording
 * @property {number} tempo beats a minute of the recording
 * @property {number} limit moria that a note may be off
 * @property {number} [droneHz] of a drone that is sounding
 */

const OCTAVE = 72;
export const SILENCE_FLOOR = -58;
const BELOW_OWN = 26;
const CLEAR = 0.84;
const STEP = 4;
const CAP = 8;
const SKIP = 26;
const JUMP = 90;
const SHORTEST = 0.35;
const LEAST_SECONDS = 1.5;
const ONE_NOTE = 3;
const STEADY_SHARE = 0.4;
const FITS = 3.5;
const FIT_SHARE = 0.72;
const PATH_COST = 2.2;
const MOVES = 0.12;
const SHORT_NOTE = 0.3;
const SHORT_MORE = 1;

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
function grouped(notes) {
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
function laid(groups, line, shift, framesPerBeat, trace) {
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
function likelyShifts(groups, line) {
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

/**
 * @param {string} why
 * @param {Partial<Verdict>} more
 * @returns {Verdict}
 */
function unheard(why, more) {
  return {
    heard: false, why, shift: 0, off: 0, drift: 0, beat: 0, notes: [], degrees: new Map(),
    level: -120, clipped: false, pushed: false, leaking: false, ...more,
  };
}

/**
 * Whether a machine's drone sounds in these frames: its pitch, too steady for any throat.
 * @param {Frame[]} frames
 * @param {number} droneHz
 */
export function droneShare(frames, droneHz) {
  let held = 0;
  for (let i = 0; i < frames.length; i++) {
    const off = OCTAVE * Math.log2(frames[i].hz / droneHz);
    const near = off - OCTAVE * Math.round(off / OCTAVE);
    if (Math.abs(near) > 1) continue;
    const later = frames[Math.min(frames.length - 1, i + 12)];
    const moved = Math.abs(OCTAVE * Math.log2(later.hz / frames[i].hz));
    if (later.t - frames[i].t < 0.2 && moved < 0.12) held += 1;
  }
  return frames.length ? held / frames.length : 0;
}

/**
 * Judge a take.
 * @param {Frame[]} frames
 * @param {Asked[]} notes
 * @param {Options} options
 * @returns {Verdict}
 */
export function judge(frames, notes, options) {
  const sounding = voiced(frames);
  const clipped = frames.filter((f) => f.peak > 0.985).length > 5;
  const level = sounding.length ? median(sounding.map((f) => f.level)) : -120;
  const leaking =
    options.droneHz !== undefined && droneShare(sounding, options.droneHz) > 0.12;
  const said = { level, clipped, leaking };
  if (sounding.length * 0.01 < LEAST_SECONDS) {
    const faint = frames.filter((f) => f.clarity > 0.9 && f.level <= SILENCE_FLOOR).length > 100;
    return unheard(faint ? "soft" : "nothing", said);
  }
  const fine = smoothed(sounding, options.zeroHz);
  const all = fine.map((p) => p.moria);
  if (options.droneHz !== undefined && droneShare(sounding, options.droneHz) > 0.6) {
    return unheard("drone", { ...said, leaking: true });
  }
  const compass = quantile(all, 0.95) - quantile(all, 0.05);
  const wanted = Math.max(...notes.map((n) => n.moria)) - Math.min(...notes.map((n) => n.moria));
  if (compass < ONE_NOTE && wanted > ONE_NOTE) return unheard("one note", said);
  if (steadiness(fine) < STEADY_SHARE) return unheard("talking", said);

  const groups = grouped(notes);
  const line = all.filter((_, i) => i % STEP === 0);
  const perBeat = 60 / options.tempo / (STEP * 0.01);
  const tried = likelyShifts(groups, line).map((shift) => ({
    shift,
    cost: laid(groups, line, shift, perBeat, false).cost,
  }));
  tried.sort((a, b) => a.cost - b.cost);
  let shift = tried[0]?.shift ?? 0;
  /** @type {Int32Array} */
  let path = new Int32Array(0);
  let cost = Infinity;
  for (let round = 0; round < 3; round++) {
    ({ path, cost } = laid(groups, line, shift, perBeat, true));
    const off = line.map((m, t) => m - shift - groups[path[t]].moria);
    const near = off.filter((o) => Math.abs(o) < 6);
    if (near.length) shift += median(near);
  }
  const fits = line.filter((m, t) => Math.abs(m - shift - groups[path[t]].moria) < FITS).length;
  const wandering = moves(path);
  if (fits / line.length < FIT_SHARE || cost > PATH_COST || wandering > MOVES) {
    return unheard("other", said);
  }
  return told(fine, sounding, notes, groups, path, shift, options, said);
}

/**
 * Share of the steps from note to note that do not go to the next one.
 * @param {Int32Array} path
 */
function moves(path) {
  let steps = 0;
  let odd = 0;
  for (let t = 1; t < path.length; t++) {
    if (path[t] === path[t - 1]) continue;
    steps += 1;
    if (path[t] !== path[t - 1] + 1) odd += 1;
  }
  return steps ? odd / steps : 0;
}

/**
 * Where each group was sung last, as places in the trace. A phrase that is sung again replaces its
 * earlier singing.
 * @param {Int32Array} path
 * @param {{t: number, moria: number}[]} fine
 * @param {Group[]} groups
 * @param {Asked[]} notes
 * @returns {([number, number] | null)[]}
 */
function stretches(path, fine, groups, notes) {
  /** @type {{group: number, from: number, to: number}[]} */
  const runs = [];
  let from = 0;
  for (let t = 1; t <= path.length; t++) {
    if (t < path.length && path[t] === path[from]) continue;
    runs.push({ group: path[from], from: from * STEP, to: Math.min(fine.length, t * STEP) });
    from = t;
  }
  // Where two notes of one pitch meet, the path cannot tell them apart either.
  for (let k = 1; k < runs.length; k++) {
    const [one, other] = [runs[k - 1], runs[k]];
    if (Math.abs(groups[one.group].moria - groups[other.group].moria) > 0.05) continue;
    const members = [...groups[one.group].members, ...groups[other.group].members];
    const cuts = divided(fine, one.from, other.to, members.map((m) => notes[m].beats));
    one.to = cuts[groups[one.group].members.length];
    other.from = one.to;
  }
  /** @type {([number, number] | null)[]} */
  const out = new Array(groups.length).fill(null);
  for (const run of runs) out[run.group] = [run.from, run.to];
  return out;
}

/**
 * A note that was sung on its neighbour's pitch looks as if it had been left out, but the time that
 * it took is there: then it gets its part of that time back, and its error is told.
 * @param {([number, number] | null)[]} places
 * @param {Group[]} groups
 */
function restored(places, groups) {
  const sizes = groups.flatMap((g, j) => {
    const place = places[j];
    return place ? [(place[1] - place[0]) / g.beats] : [];
  });
  const perBeat = median(sizes);
  for (let j = 1; j < groups.length; j++) {
    const before = places[j - 1];
    if (places[j] || !before) continue;
    let next = j;
    while (next < groups.length && !places[next]) next += 1;
    const after = places[next];
    if (!after || next - j > 2 || after[0] !== before[1]) continue;
    const all = groups.slice(j - 1, next + 1);
    const beats = all.reduce((sum, g) => sum + g.beats, 0);
    const lost = groups.slice(j, next).reduce((sum, g) => sum + g.beats, 0);
    const span = after[1] - before[0];
    if (span / perBeat < beats - 0.4 * lost) continue;
    let at = before[0];
    for (let k = j - 1; k <= next; k++) {
      const end = k === next ? after[1] : at + Math.round((span * groups[k].beats) / beats);
      places[k] = [at, end];
      at = end;
    }
  }
}

/**
 * @param {{t: number, moria: number}[]} fine
 * @param {Frame[]} sounding
 * @param {Asked[]} notes
 * @param {Group[]} groups
 * @param {Int32Array} path
 * @param {number} shift
 * @param {Options} options
 * @param {{level: number, clipped: boolean, leaking: boolean}} said
 * @returns {Verdict}
 */
function told(fine, sounding, notes, groups, path, shift, options, said) {
  const places = stretches(path, fine, groups, notes);
  restored(places, groups);
  const raw = sounding.map((f) => toMoria(f.hz, options.zeroHz));
  /** @type {number[]} */
  const beats = [];
  /** @type {(Heard | null)[]} */
  const found = new Array(notes.length).fill(null);
  /** @type {number[]} */
  const levels = new Array(notes.length).fill(NaN);
  groups.forEach((group, j) => {
    const place = places[j];
    if (!place) return;
    const [from, to] = place;
    beats.push((to - from) / 100 / group.beats);
    const cuts = divided(fine, from, to, group.members.map((m) => notes[m].beats));
    group.members.forEach((member, k) => {
      const a = cuts[k];
      const b = cuts[k + 1];
      if (b - a < 5) return;
      levels[member] = median(sounding.slice(a, b).map((f) => f.level));
      found[member] = {
        id: notes[member].id,
        state: "right",
        off: settled(raw.slice(a, b), fine.slice(a, b)) - shift - notes[member].moria,
        start: fine[a].t,
        end: fine[b - 1].t,
      };
    });
  });
  const sung = found.flatMap((note, i) => (note ? [{ note, i }] : []));
  // The singer's own pitch is what most of their notes say it is.
  const centre = median(sung.map(({ note }) => note.off));
  const slope = drifting(sung.map(({ note }) => [(note.start + note.end) / 2, note.off]));
  const span = sung.length ? sung[sung.length - 1].note.end - sung[0].note.start : 0;
  const drift = slope * span;
  const drifted = Math.abs(drift) >= 3;
  const middle = median(sung.map(({ note }) => (note.start + note.end) / 2));
  for (const { note } of sung) {
    const along = drifted ? slope * ((note.start + note.end) / 2 - middle) : 0;
    note.off -= centre + along;
    const brief = note.end - note.start < SHORT_NOTE;
    if (Math.abs(note.off) > options.limit + (brief ? SHORT_MORE : 0)) note.state = note.off > 0 ? "high" : "low";
  }
  const out = notes.map((asked, i) =>
    found[i] ?? { id: asked.id, state: "left out", off: 0, start: 0, end: 0 });
  /** @type {Map<string, number[]>} */
  const byDegree = new Map();
  for (const { note, i } of sung) {
    const name = notes[i].name;
    byDegree.set(name, [...(byDegree.get(name) ?? []), note.off]);
  }
  const degrees = new Map([...byDegree].map(([name, offs]) => [name, median(offs)]));
  return {
    heard: true,
    why: "",
    shift: shift + centre,
    off: median(sung.map(({ note }) => Math.abs(note.off))),
    drift,
    beat: median(beats),
    notes: out,
    degrees,
    pushed: pushedHigh(notes, levels),
    ...said,
  };
}

/**
 * Divide the time of notes of one pitch: by their beats, then each border moved a little to where a
 * breath is, or where the pitch changes if one of them was off.
 * @param {{t: number, moria: number}[]} fine
 * @param {number} from
 * @param {number} to
 * @param {number[]} beats
 */
function divided(fine, from, to, beats) {
  const all = beats.reduce((sum, b) => sum + b, 0);
  const cuts = [from];
  let at = from;
  for (const b of beats) {
    at += ((to - from) * b) / all;
    cuts.push(Math.min(to, Math.round(at)));
  }
  for (let k = 1; k + 1 < cuts.length; k++) {
    const [low, cut, high] = [cuts[k - 1], cuts[k], cuts[k + 1]];
    const reach = Math.round(0.45 * Math.min(cut - low, high - cut));
    if (reach < 4) continue;
    let best = cut;
    let least = Infinity;
    for (let t = cut - reach; t <= cut + reach; t += 2) {
      const breath = fine[t].t - fine[t - 1].t > 0.08 ? 0.3 : 0;
      const cost = spread(fine, low, t) + spread(fine, t, high);
      const moved = 0.1 * Math.abs(t - cut) / reach;
      const price = cost / (high - low) + moved - breath;
      if (price < least) {
        least = price;
        best = t;
      }
    }
    cuts[k] = best;
  }
  return cuts;
}

/**
 * Sum of the distances from the middle.
 * @param {{moria: number}[]} fine
 * @param {number} from
 * @param {number} to
 */
function spread(fine, from, to) {
  const values = fine.slice(from, to).map((p) => p.moria);
  const middle = median(values);
  return values.reduce((sum, v) => sum + Math.abs(v - middle), 0);
}

/**
 * Pitch on which a note settled. Its edges are on their way from the last note or to the next; a
 * note too short for that is taken without its beginning, as near to whole turns of a vibrato as
 * can be.
 * @param {number[]} raw
 * @param {{moria: number}[]} fine
 */
function settled(raw, fine) {
  const size = raw.length;
  if (size >= 34) {
    const edge = Math.round(Math.min(0.3 * size, 12));
    return median(fine.slice(edge, size - edge).map((p) => p.moria));
  }
  const inner = raw.slice(Math.min(6, size >> 2), size - (size > 12 ? 2 : 0));
  const middle = median(inner);
  const near = inner.filter((m) => Math.abs(m - middle) < 5);
  return near.reduce((sum, m) => sum + m, 0) / near.length;
}

/**
 * Median slope between all pairs (Theil and Sen).
 * @param {number[][]} points
 */
function drifting(points) {
  const slopes = [];
  for (let a = 0; a < points.length; a++) {
    for (let b = a + 1; b < points.length; b++) {
      const wide = points[b][0] - points[a][0];
      if (Math.abs(wide) > 1) slopes.push((points[b][1] - points[a][1]) / wide);
    }
  }
  return slopes.length > 6 ? median(slopes) : 0;
}

/**
 * @param {Asked[]} notes
 * @param {number[]} levels
 */
function pushedHigh(notes, levels) {
  const edge = quantile(notes.map((n) => n.moria), 0.8);
  const upper = levels.filter((l, i) => l > -120 && notes[i].moria >= edge);
  const lower = levels.filter((l, i) => l > -120 && notes[i].moria < edge);
  return upper.length > 2 && lower.length > 4 && median(upper) - median(lower) > 9;
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
