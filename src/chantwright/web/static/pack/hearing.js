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
import { grouped, laid, likelyShifts, STEP } from "./chain.js";
import { droneShare, median, quantile, SILENCE_FLOOR, smoothed, steadiness, toMoria, voiced } from "./line.js";

/** @typedef {import("./chain.js").Asked} Asked */
/** @typedef {import("./chain.js").Options} Options */
/** @typedef {import("./chain.js").Group} Group */
/** @typedef {import("./pitch.js").Frame} Frame */

const LEAST_SECONDS = 1.5;
const ONE_NOTE = 3;
const STEADY_SHARE = 0.4;
const FITS = 3.5;
const FIT_SHARE = 0.72;
const PATH_COST = 2.2;
const MOVES = 0.12;
const SHORT_NOTE = 0.3;
const SHORT_MORE = 1;

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
