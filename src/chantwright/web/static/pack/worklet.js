/** Runs the pitch follower beside the sound and posts its frames. Nothing is kept, nothing is sent. */
import { PitchFollower } from "./pitch.js";

class PitchWorklet extends AudioWorkletProcessor {
  constructor() {
    super();
    this.follower = new PitchFollower(sampleRate);
    this.taken = 0;
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
    if (channel) {
      // Worked out anew each time: a browser may leave blocks out.
      const started = currentTime - this.taken / sampleRate;
      this.taken += channel.length;
      for (const frame of this.follower.push(channel)) {
        frame.t += started;
        this.port.postMessage(frame);
      }
    }
    return this.open;
  }
}

registerProcessor("chant-pitch", PitchWorklet);
