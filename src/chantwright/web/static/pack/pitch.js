/**
 * The pitch of one voice, frame by frame: low-pass, decimation to about 16 kHz, normalised square
 * difference, parabolic peak. Pure: the same file runs in an AudioWorklet, in a page and in Node.
 *
 * Conventions: seconds from the first sample pushed, Hz, dBFS. A frame is given every 10 ms and its
 * time is the middle of the two stretches that were compared.
 *
 * Reference: P. McLeod and G. Wyvill, "A smarter way to find pitch", ICMC 2005.
 */

/**
 * @typedef {object} Frame
 * @property {number} t seconds
 * @property {number} hz 0 where there is no pitch at all
 * @property {number} clarity 0 to 1
 * @property {number} level dBFS of the low-passed sound
 * @property {number} peak largest sample since the frame before, 0 to 1
 */

const LOWEST = 62;
const HIGHEST = 1050;
const COMPARED = 0.026;
const HOP = 0.01;
const CUTOFF = 3400;
const NEAR_BEST = 0.94;

/**
 * Windowed sinc low-pass.
 * @param {number} rate
 * @param {number} factor
 * @returns {Float64Array}
 */
function lowpass(rate, factor) {
  const half = 16 * factor;
  const taps = new Float64Array(2 * half + 1);
  const edge = Math.min(CUTOFF, (0.4 * rate) / factor) / rate;
  let sum = 0;
  for (let i = -half; i <= half; i++) {
    const sinc = i === 0 ? 2 * edge : Math.sin(2 * Math.PI * edge * i) / (Math.PI * i);
    const window = 0.54 + 0.46 * Math.cos((Math.PI * i) / half);
    taps[i + half] = sinc * window;
    sum += sinc * window;
  }
  return taps.map((tap) => tap / sum);
}

/** Takes samples in any portions and gives frames. */
export class PitchFollower {
  /** @param {number} rate samples a second */
  constructor(rate) {
    this.factor = Math.max(1, Math.round(rate / 16000));
    this.rate = rate / this.factor;
    this.taps = lowpass(rate, this.factor);
    this.raw = new Float64Array(this.taps.length);
    this.rawAt = 0;
    this.phase = 0;
    this.longest = Math.ceil(this.rate / LOWEST) + 2;
    this.shortest = Math.floor(this.rate / HIGHEST);
    this.compared = Math.round(COMPARED * this.rate);
    this.size = this.compared + this.longest;
    this.hop = HOP * this.rate;
    this.kept = new Float64Array(this.size * 4);
    this.filled = 0;
    this.dropped = 0;
    this.next = 0;
    this.peak = 0;
    this.likeness = new Float64Array(this.longest + 1);
    // The filter delays by half its length.
    this.delay = (this.taps.length - 1) / 2 / rate;
  }

  /**
   * @param {Float32Array} samples
   * @returns {Frame[]}
   */
  push(samples) {
    /** @type {Frame[]} */
    const out = [];
    const { taps, raw } = this;
    const length = raw.length;
    for (let i = 0; i < samples.length; i++) {
      const value = samples[i];
      if (Math.abs(value) > this.peak) this.peak = Math.abs(value);
      raw[this.rawAt] = value;
      this.rawAt = this.rawAt + 1 === length ? 0 : this.rawAt + 1;
      this.phase += 1;
      if (this.phase < this.factor) continue;
      this.phase = 0;
      let sum = 0;
      let at = this.rawAt;
      for (let k = 0; k < length; k++) {
        sum += raw[at] * taps[k];
        at = at + 1 === length ? 0 : at + 1;
      }
      this.keep(sum, out);
    }
    return out;
  }

  /**
   * @param {number} value
   * @param {Frame[]} out
   */
  keep(value, out) {
    if (this.filled === this.kept.length) {
      const gone = this.filled - this.size;
      this.kept.copyWithin(0, gone);
      this.filled -= gone;
      this.dropped += gone;
    }
    this.kept[this.filled] = value;
    this.filled += 1;
    while (Math.round(this.next) + this.size <= this.dropped + this.filled) {
      out.push(this.frame(Math.round(this.next) - this.dropped));
      this.next += this.hop;
    }
  }

  /**
   * The stretches that are compared end with the newest sample, so that a short period is known
   * sooner than a long one.
   * @param {number} start place in `kept`
   * @returns {Frame}
   */
  frame(start) {
    const { kept, compared, longest, likeness } = this;
    const peak = this.peak;
    this.peak = 0;
    const end = start + this.size;
    const from = end - compared;
    let own = 0;
    for (let i = from; i < end; i++) own += kept[i] ** 2;
    const level = 10 * Math.log10(own / compared + 1e-12);
    let other = own;
    likeness[0] = 1;
    for (let lag = 1; lag <= longest - 1; lag++) {
      other += kept[from - lag] ** 2 - kept[end - lag] ** 2;
      let sum = 0;
      for (let i = from; i < end; i++) sum += kept[i] * kept[i - lag];
      likeness[lag] = (2 * sum) / (own + other + 1e-12);
    }
    const [lag, clarity] = this.best();
    const middle = (end + this.dropped - 1 - (compared + (lag || longest) - 1) / 2) / this.rate;
    // The first sample that is kept stands at the end of the first group of `factor` samples.
    const first = (this.factor - 1) / this.factor / this.rate;
    return {
      t: middle + first - this.delay,
      hz: lag ? this.rate / lag : 0,
      clarity,
      level,
      peak,
    };
  }

  /**
   * The first peak that is nearly as high as the highest.
   * @returns {[number, number]} lag in samples (0 for none) and height
   */
  best() {
    const { likeness, longest, shortest } = this;
    let lag = 1;
    while (lag < longest - 1 && likeness[lag] > 0) lag += 1;
    /** @type {[number, number][]} */
    const peaks = [];
    let highest = 0;
    for (lag = Math.max(lag, shortest); lag < longest - 1; lag++) {
      const here = likeness[lag];
      if (here <= 0.3 || here < likeness[lag - 1] || here <= likeness[lag + 1]) continue;
      const before = likeness[lag - 1];
      const after = likeness[lag + 1];
      const curve = before - 2 * here + after;
      const shift = curve < 0 ? (0.5 * (before - after)) / curve : 0;
      const height = here - 0.25 * (before - after) * shift;
      peaks.push([lag + shift, height]);
      if (height > highest) highest = height;
    }
    const found = peaks.find(([, height]) => height >= NEAR_BEST * highest);
    return found ? [found[0], Math.min(1, found[1])] : [0, 0];
  }
}
