/** Runs the pitch follower beside the sound and posts its frames. Nothing is kept, nothing is sent. */
import { PitchFollower } from "./pitch.js";

const SILENCE = new Float32Array(128);

class PitchWorklet extends AudioWorkletProcessor {
  constructor() {
    super();
    this.follower = new PitchFollower(sampleRate);
    /** @type {number | null} moment of the first sample */
    this.started = null;
    this.open = true;
    this.port.onmessage = () => {
      this.open = false;
    };
  }

  /**
   * @param {Float32Array[][]} inputs
   * @returns {boolean} whether it is still wanted
   */
  process(inputs) {
    const channel = inputs[0][0];
    if (channel) this.started ??= currentTime;
    if (this.started !== null) {
      // Where the sound breaks off for a moment, silence keeps the time.
      for (const frame of this.follower.push(channel ?? SILENCE)) {
        frame.t += this.started;
        this.port.postMessage(frame);
      }
    }
    return this.open;
  }
}

registerProcessor("chant-pitch", PitchWorklet);
