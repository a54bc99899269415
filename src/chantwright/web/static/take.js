// @ts-check
/** Records a singer in the page and puts the take into the form; nothing is sent before it is asked. */

const RATE_LIMIT_SECONDS = 600;

/**
 * @param {Float32Array[]} parts
 * @param {number} rate
 * @returns {Blob}
 */
export function wav(parts, rate) {
  const count = parts.reduce((n, p) => n + p.length, 0);
  const view = new DataView(new ArrayBuffer(44 + 2 * count));
  /**
   * @param {number} at
   * @param {string} text
   */
  const text = (at, text) => [...text].forEach((c, i) => view.setUint8(at + i, c.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + 2 * count, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, 2 * rate, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, 2 * count, true);
  let at = 44;
  for (const part of parts) {
    for (const sample of part) {
      view.setInt16(at, Math.max(-1, Math.min(1, sample)) * 32767, true);
      at += 2;
    }
  }
  return new Blob([view.buffer], { type: "audio/wav" });
}

/**
 * @param {Float32Array} samples
 * @returns {number}
 */
function loudness(samples) {
  let sum = 0;
  for (const x of samples) sum += x * x;
  return Math.sqrt(sum / Math.max(1, samples.length));
}

class OwnTake extends HTMLElement {
  connectedCallback() {
    const row = this.querySelector("p");
    const say = this.querySelector("[role=status]");
    if (!row || !say) return;
    row.hidden = false;
    if (!navigator.mediaDevices?.getUserMedia) {
      say.textContent = "This address cannot use the microphone; choose a recording below.";
      for (const b of row.querySelectorAll("button")) b.disabled = true;
      return;
    }
    const start = /** @type {HTMLButtonElement} */ (this.querySelector("[data-start]"));
    const stop = /** @type {HTMLButtonElement} */ (this.querySelector("[data-stop]"));
    const level = /** @type {HTMLMeterElement} */ (this.querySelector("meter"));
    start.addEventListener("click", async () => {
      /** @type {MediaStream} */
      let stream;
      try {
        stream = await navigator.mediaDevices.getUserMedia({
          audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
        });
      } catch {
        say.textContent = "The microphone may not be used; allow it, or choose a recording below.";
        return;
      }
      const context = new AudioContext();
      await context.audioWorklet.addModule("/static/take-worklet.js");
      const node = new AudioWorkletNode(context, "take");
      /** @type {Float32Array[]} */
      const parts = [];
      let length = 0;
      node.port.onmessage = (event) => {
        parts.push(event.data);
        length += event.data.length;
        this.dataset.seconds = (length / context.sampleRate).toFixed(1);
        level.value = Math.min(1, 4 * loudness(event.data));
        if (length > RATE_LIMIT_SECONDS * context.sampleRate) stop.click();
      };
      context.createMediaStreamSource(stream).connect(node);
      start.disabled = true;
      stop.disabled = false;
      say.textContent = "Sing.";
      stop.addEventListener(
        "click",
        () => {
          for (const track of stream.getTracks()) track.stop();
          context.close();
          start.disabled = false;
          stop.disabled = true;
          level.value = 0;
          const file = new File([wav(parts, context.sampleRate)], "take.wav", { type: "audio/wav" });
          const put = new DataTransfer();
          put.items.add(file);
          const input = /** @type {HTMLInputElement | null} */ (document.querySelector("#take"));
          if (input) input.files = put.files;
          say.textContent = `${Math.round(length / context.sampleRate)} seconds. Now press “${this.dataset.then}”.`;
        },
        { once: true },
      );
    });
  }
}
customElements.define("own-take", OwnTake);
