/**
 * The drone: one oscillator of a few partials, whose every change is a smooth approach, so that it
 * neither clicks nor drifts.
 */

const PARTIALS = [0, 1, 0.55, 0.32, 0.22, 0.12, 0.07, 0.05, 0.03];
const SOFT = 0.06;
const GLIDE = 0.035;

/** A held note. */
export class Drone {
  /**
   * @param {BaseAudioContext} context
   * @param {AudioNode} [into]
   */
  constructor(context, into) {
    this.context = context;
    const count = PARTIALS.length;
    const wave = context.createPeriodicWave(new Float32Array(count), Float32Array.from(PARTIALS));
    this.tone = context.createOscillator();
    this.tone.setPeriodicWave(wave);
    this.volume = context.createGain();
    this.volume.gain.value = 0;
    this.tone.connect(this.volume);
    this.volume.connect(into ?? context.destination);
    this.tone.start();
  }

  /**
   * @param {number} hz
   * @param {number} loudness 0 to 1
   * @param {number} [at] seconds; now
   */
  sound(hz, loudness, at) {
    const when = at ?? this.context.currentTime;
    const silent = this.volume.gain.value === 0 && at === undefined;
    if (silent || when === 0) this.tone.frequency.setValueAtTime(hz, when);
    else this.tone.frequency.setTargetAtTime(hz, when, GLIDE);
    this.volume.gain.setTargetAtTime(loudness * loudness * 0.5, when, SOFT);
  }

  /** @param {number} [at] seconds; now */
  hush(at) {
    this.volume.gain.setTargetAtTime(0, at ?? this.context.currentTime, SOFT);
  }
}
