/**
 * What was sung, judged by alignment and never by the clock. A coarse chain finds the singer's own
 * pitch (the shift) and tempo, and whether it is this hymn at all; then the take is laid along the
 * notes closely, and the pitch on which each note settled is measured.
 *
 * Conventions: moria (72 to the octave), seconds, dBFS. A shift is where the singer's moria 0 lies
 * against the recording's. Pure: runs in a page and in Node.
 */
import { grouped, laid, likelyShifts, STEP } from "./chain.js";
import { FRAME, laidAlong, onsets } from "./laying.js";
import { droneShare, LEAKING, median, quantile, SILENCE_FLOOR, smoothed, steadiness, toMoria, voiced } from "./line.js";
import { HOP, settled, vibratoRate } from "./settling.js";

/** @typedef {import("./chain.js").Asked} Asked */
/** @typedef {import("./chain.js").Options} Options */
/** @typedef {import("./chain.js").Group} Group */
/** @typedef {import("./laying.js").Span} Span */
/** @typedef {import("./pitch.js").Frame} Frame */

const LEAST_SECONDS = 1.5;
const ONE_NOTE = 3;
const STEADY_SHARE = 0.4;
const FITS = 3.5;
const FIT_SHARE = 0.6;
const MOVES = 0.2;
const COARSE_SHARE = 0.5;
const COARSE_COST = 2.6;
const COARSE_MOVES = 0.3;
const FEWEST = 4;
const SHORT_NOTE = 0.3;
const SHORT_MORE = 1;
const DRIFTED = 3;
const ROUNDS = 2;

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
 * @property {string[]} again notes that were sung more than once
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
    heard: false, why, shift: 0, off: 0, drift: 0, beat: 0, notes: [], again: [], degrees: new Map(),
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
  const drone = droneShare(sounding, options.drones ?? []);
  const leaking = drone > LEAKING;
  const said = { level, clipped, leaking };
  if (sounding.length * 0.01 < LEAST_SECONDS) {
    const faint = frames.filter((f) => f.clarity > 0.9 && f.level <= SILENCE_FLOOR).length > 100;
    return unheard(faint ? "soft" : "nothing", said);
  }
  const fine = smoothed(sounding, options.zeroHz);
  const all = fine.map((p) => p.moria);
  if (drone > 0.6) return unheard("drone", said);
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
  if (fits / line.length < COARSE_SHARE || cost > COARSE_COST || wandering > COARSE_MOVES) {
    return unheard("other", said);
  }
  return told(sounding, notes, coarsely(line, path, groups, fine), shift, options, said);
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
 * The take on a grid of even frames, and the take itself, ten milliseconds a frame.
 * @param {Frame[]} sounding
 * @param {number} zeroHz
 */
function gridded(sounding, zeroHz) {
  const start = sounding[0].t;
  const size = Math.round((sounding[sounding.length - 1].t - start) / HOP) + 1;
  const moria = new Float64Array(size).fill(NaN);
  const loud = new Float64Array(size).fill(-120);
  for (const frame of sounding) {
    const at = Math.round((frame.t - start) / HOP);
    moria[at] = toMoria(frame.hz, zeroHz);
    loud[at] = frame.level;
  }
  return { start, moria, loud };
}

/**
 * Every two frames to one.
 * @param {Float64Array} values
 */
function halved(values) {
  return Float64Array.from({ length: values.length >> 1 }, (_, i) => {
    const [a, b] = [values[2 * i], values[2 * i + 1]];
    return Number.isNaN(a) ? b : Number.isNaN(b) ? a : (a + b) / 2;
  });
}

/**
 * Beat (in frames of the search) and slope (moria a second) as the coarse path has them.
 * @param {number[]} line
 * @param {Int32Array} path
 * @param {Group[]} groups
 * @param {{t: number}[]} fine
 */
function coarsely(line, path, groups, fine) {
  const points = [];
  const beats = [];
  let from = 0;
  for (let t = 1; t <= path.length; t++) {
    if (t < path.length && path[t] === path[from]) continue;
    const group = groups[path[from]];
    const off = median(line.slice(from, t).map((m) => m - group.moria));
    const last = fine[Math.min(fine.length - 1, t * STEP)].t;
    if (t - from > 3) points.push([(fine[from * STEP].t + last) / 2, off]);
    beats.push(((t - from) * STEP * HOP) / FRAME / group.beats);
    from = t;
  }
  return { beat: median(beats), slope: drifting(points) };
}

/**
 * @typedef {object} Sung
 * @property {number} off moria
 * @property {number} start frame
 * @property {number} end frame
 */

/**
 * How high each note was, where it was sung last.
 * @param {Span[]} spans
 * @param {Float64Array} moria against the singer's own moria 0
 * @param {Asked[]} notes
 * @returns {(Sung | null)[]}
 */
function measured(spans, moria, notes) {
  const frames = FRAME / HOP;
  const rate = vibratoRate(moria, spans.map((s) => [s.from * frames, s.to * frames]));
  /** @type {(Sung | null)[]} */
  const out = new Array(notes.length).fill(null);
  spans.forEach((span, k) => {
    const [before, after] = [spans[k - 1], spans[k + 1]];
    const [start, end] = [span.from * frames, span.to * frames];
    const first = before?.to === span.from ? before.from * frames : start;
    const last = after?.from === span.to ? after.to * frames : end;
    const pitch = settled(moria, start, end, first, last, rate);
    out[span.note] = Number.isNaN(pitch) ? null : { off: pitch - notes[span.note].moria, start, end };
  });
  return out;
}

/**
 * How well the path tells what was sung: the share of the voice that lies in written notes at their
 * own pitch, and the share of steps that do not go to the next note.
 * @param {Span[]} spans
 * @param {Float64Array} pitch
 * @param {Asked[]} notes
 */
function explained(spans, pitch, notes) {
  const voice = pitch.filter((m) => !Number.isNaN(m)).length;
  let inside = 0;
  let odd = 0;
  spans.forEach((span, k) => {
    const asked = notes[span.note].moria;
    for (let t = span.from; t < span.to; t++) if (Math.abs(pitch[t] - asked) < FITS) inside += 1;
    if (k && span.note !== spans[k - 1].note + 1) odd += 1;
  });
  return { fits: voice ? inside / voice : 0, odd: spans.length ? odd / spans.length : 1 };
}

/**
 * @param {Frame[]} sounding
 * @param {Asked[]} notes
 * @param {{beat: number, slope: number}} rough
 * @param {number} shift
 * @param {Options} options
 * @param {{level: number, clipped: boolean, leaking: boolean}} said
 * @returns {Verdict}
 */
function told(sounding, notes, rough, shift, options, said) {
  const { start, moria, loud } = gridded(sounding, options.zeroHz);
  const halfway = (moria.length * HOP) / 2;
  const level = halved(loud);
  let beat = rough.beat;
  let base = shift;
  /** @type {(Sung | null)[]} */
  let found = [];
  /** @type {Span[]} */
  let spans = [];
  let fit = { fits: 0, odd: 1 };
  for (let round = 0; round < ROUNDS; round++) {
    const straight = moria.map((m, i) => m - base - rough.slope * (i * HOP - halfway));
    const pitch = halved(straight);
    spans = laidAlong(pitch, onsets(pitch, level), notes, beat, round > 0);
    fit = explained(spans, pitch, notes);
    found = measured(spans, moria.map((m) => m - shift), notes);
    const lengths = spans.filter((s) => !s.free).map((s) => (s.to - s.from) / notes[s.note].beats);
    if (lengths.length > 3) beat = median(lengths);
    base = shift + median(found.flatMap((f) => (f ? [f.off] : [])));
  }
  const sung = found.flatMap((note, i) => (note ? [{ note, i }] : []));
  if (fit.fits < FIT_SHARE || fit.odd > MOVES || sung.length < Math.min(FEWEST, notes.length)) {
    return unheard("other", said);
  }
  // The singer's own pitch is what most of their notes say it is.
  const centre = median(sung.map(({ note }) => note.off));
  /** @param {Sung} note */
  const when = (note) => start + ((note.start + note.end) / 2) * HOP;
  const slope = drifting(sung.map(({ note }) => [when(note), note.off]));
  const drift = slope * (sung[sung.length - 1].note.end - sung[0].note.start) * HOP;
  const drifted = Math.abs(drift) >= DRIFTED;
  const middle = median(sung.map(({ note }) => when(note)));
  /** @type {number[]} */
  const levels = new Array(notes.length).fill(NaN);
  const out = notes.map((asked, i) => {
    const note = found[i];
    if (!note) return { id: asked.id, state: "left out", off: 0, start: 0, end: 0 };
    const heard = [...loud.subarray(note.start, note.end)].filter((l) => l > -120);
    levels[i] = median(heard);
    const off = note.off - centre - (drifted ? slope * (when(note) - middle) : 0);
    const brief = (note.end - note.start) * HOP < SHORT_NOTE;
    const wrong = Math.abs(off) > options.limit + (brief ? SHORT_MORE : 0);
    const state = !wrong ? "right" : off > 0 ? "high" : "low";
    return { id: asked.id, state, off, start: start + note.start * HOP, end: start + note.end * HOP };
  });
  /** @type {Map<string, number[]>} */
  const byDegree = new Map();
  for (const { i } of sung) {
    const name = notes[i].name;
    byDegree.set(name, [...(byDegree.get(name) ?? []), out[i].off]);
  }
  return {
    heard: true,
    why: "",
    shift: shift + centre,
    off: median(sung.map(({ i }) => Math.abs(out[i].off))),
    drift,
    beat: beat * FRAME,
    notes: out,
    again: notes.filter((_, i) => spans.filter((s) => s.note === i).length > 1).map((n) => n.id),
    degrees: new Map([...byDegree].map(([name, offs]) => [name, median(offs)])),
    pushed: pushedHigh(notes, levels),
    ...said,
  };
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
