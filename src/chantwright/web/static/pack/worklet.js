/** Runs the pitch follower beside the sound and posts its frames. Nothing is kept, nothing is sent. */
import { PitchFollower } from "./pitch.js";

class PitchWorklet extends AudioWorkletProcessor {
  constructor() {
    super();
    this.follower = new PitchFollower(sampleRate);
    this.started = currentTime;
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
      const frames = this.follower.push(channel);
      for (const frame of frames) {
        frame.t += this.started;
        this.port.postMessage(frame);
      }
    }
    return this.open;
  }
}

registerProcessor("chant-pitch", PitchWorklet);
