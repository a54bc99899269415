// @ts-check
/** Hands on what the microphone hears, in blocks of about a tenth of a second. */

class Take extends AudioWorkletProcessor {
  /** @type {Float32Array} */
  block = new Float32Array(4800);
  /** @type {number} */
  filled = 0;

  /**
   * @param {Float32Array[][]} inputs
   * @returns {boolean}
   */
  process(inputs) {
    const channel = inputs[0]?.[0];
    if (!channel) return true;
    for (const sample of channel) {
      this.block[this.filled++] = sample;
      if (this.filled === this.block.length) {
        this.port.postMessage(this.block.slice());
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("take", Take);
