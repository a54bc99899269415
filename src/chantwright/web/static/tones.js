// @ts-check
/** Sound of the stand: an ison that is held, and the few notes of an intonation. */

/** Strengths of the partials: soft, and without the buzz of a saw. */
const PARTIALS = [0, 1, 0.5, 0.32, 0.2, 0.12, 0.08, 0.05, 0.03];
/** Every change glides over this time constant in seconds, so that nothing clicks. */
export const GLIDE = 0.06;

export class Tones {
  /** @type {AudioContext | null} */
  context = null;
  /** @type {{oscillator: OscillatorNode, gain: GainNode} | null} */
  held = null;

  /** @returns {AudioContext} */
  ready() {
    if (!this.context) this.context = new AudioContext();
    if (this.context.state === "suspended") this.context.resume();
    return this.context;
  }

  /**
   * @param {AudioContext} context
   * @param {number} hz
   */
  voice(context, hz) {
    const oscillator = context.createOscillator();
    const wave = context.createPeriodicWave(new Float32Array(PARTIALS.length), new Float32Array(PARTIALS));
    oscillator.setPeriodicWave(wave);
    oscillator.frequency.value = hz;
    const gain = context.createGain();
    gain.gain.value = 0;
    oscillator.connect(gain).connect(context.destination);
    oscillator.start();
    return { oscillator, gain };
  }

  /**
   * Hold a note, or move the one that is held.
   * @param {number} hz
   */
  hold(hz) {
    const context = this.ready();
    if (this.held) {
      this.held.oscillator.frequency.setTargetAtTime(hz, context.currentTime, GLIDE);
      return;
    }
    this.held = this.voice(context, hz);
    this.held.gain.gain.setTargetAtTime(0.12, context.currentTime, GLIDE);
  }

  still() {
    if (!this.held || !this.context) return;
    const { oscillator, gain } = this.held;
    this.held = null;
    gain.gain.setTargetAtTime(0, this.context.currentTime, GLIDE);
    oscillator.stop(this.context.currentTime + 12 * GLIDE);
  }

  /**
   * @param {Array<{hz: number, beats: number}>} notes
   * @param {number} tempo
   */
  sing(notes, tempo) {
    const context = this.ready();
    if (!notes.length) return;
    const { oscillator, gain } = this.voice(context, notes[0].hz);
    let at = context.currentTime + 0.05;
    gain.gain.setTargetAtTime(0.16, at, GLIDE / 2);
    for (const note of notes) {
      oscillator.frequency.setTargetAtTime(note.hz, at, GLIDE / 3);
      at += (note.beats * 60) / tempo;
    }
    gain.gain.setTargetAtTime(0, at, GLIDE);
    oscillator.stop(at + 12 * GLIDE);
  }
}
