/**
 * Draws what is sung over the notes of a phrase, in moria. The notes lie on a ground that is drawn
 * once a phrase; of the line only new points are drawn.
 */

import { printed } from "./line.js";

/** @typedef {import("./player.js").HymnData} HymnData */

const EDGE = 46;
const TOP = 18;
const BOTTOM = 40;

/** The picture. */
export class Trace {
  /**
   * @param {HTMLElement} box
   * @param {HymnData} data
   */
  constructor(box, data) {
    this.box = box;
    this.data = data;
    const [ground, line] = box.querySelectorAll("canvas");
    this.ground = ground;
    this.line = line;
    this.phrase = "";
    this.colour = "";
    const moria = data.notes.map((n) => n.moria);
    this.low = Math.min(...moria) - 8;
    this.high = Math.max(...moria) + 8;
    /** @type {{x: number, y: number, t: number} | null} */
    this.last = null;
    /** @type {Map<number, [number, number]>} place of a note to its left edge and width */
    this.bars = new Map();
    /** @type {number[]} */
    this.lately = [];
    window.addEventListener("resize", () => {
      if (!box.hidden) this.open();
    });
  }

  open() {
    this.box.hidden = false;
    const scale = Math.min(2, devicePixelRatio);
    for (const canvas of [this.ground, this.line]) {
      canvas.width = Math.round(this.box.clientWidth * scale);
      canvas.height = Math.round(this.box.clientHeight * scale);
      canvas.getContext("2d")?.setTransform(scale, 0, 0, scale, 0, 0);
    }
    this.phrase = "";
    this.show(0);
  }

  /** @param {number} moria */
  y(moria) {
    const height = this.box.clientHeight - TOP - BOTTOM;
    const share = (this.high - moria) / (this.high - this.low);
    return TOP + height * Math.min(1.02, Math.max(-0.02, share));
  }

  /**
   * Draw the phrase of a note, unless it is there already.
   * @param {number} place
   */
  show(place) {
    const notes = this.data.notes;
    const phrase = notes[place].phrase;
    if (phrase === this.phrase) return;
    this.phrase = phrase;
    this.last = null;
    const pen = this.ground.getContext("2d");
    if (!pen) return;
    const style = getComputedStyle(this.box);
    this.colour = style.getPropertyValue("--rubric");
    const [ink, soft, rule] = ["--ink", "--soft", "--rule"].map((n) => style.getPropertyValue(n));
    const width = this.box.clientWidth;
    const height = this.box.clientHeight;
    pen.clearRect(0, 0, width, height);
    this.line.getContext("2d")?.clearRect(0, 0, width, height);
    pen.font = '16px "Libertinus Serif", Georgia, serif';
    const names = new Map(notes.map((n) => [n.name, n.moria]));
    let below = Infinity;
    for (const [name, moria] of [...names].sort((a, b) => a[1] - b[1])) {
      const y = this.y(moria);
      pen.fillStyle = rule;
      pen.fillRect(EDGE, y, width - EDGE, 1);
      if (below - y < 15) continue;
      below = y;
      pen.fillStyle = soft;
      pen.fillText(printed(name), 6, y + 5);
    }
    const own = notes.flatMap((n, i) => (n.phrase === phrase ? [i] : []));
    const beats = own.reduce((sum, i) => sum + notes[i].beats, 0);
    const words = new Map(this.data.words);
    this.bars.clear();
    let x = EDGE + 6;
    let free = 0;
    for (const i of own) {
      const wide = ((width - EDGE - 12) * notes[i].beats) / beats;
      this.bars.set(i, [x, wide]);
      pen.fillStyle = ink;
      pen.globalAlpha = 0.22;
      pen.fillRect(x + 1, this.y(notes[i].moria) - 5, wide - 2, 10);
      pen.globalAlpha = 1;
      const first = i === 0 || notes[i - 1].syllable !== notes[i].syllable;
      const text = first ? (words.get(notes[i].syllable) ?? "") : "";
      if (text && x >= free) {
        pen.fillText(text, x, height - 12);
        free = x + pen.measureText(text).width + 4;
      }
      x += wide;
    }
  }

  /**
   * @param {number} t seconds
   * @param {number} moria
   * @param {number} place of the note that is sung
   * @param {number} share of it that is over
   */
  point(t, moria, place, share) {
    this.show(place);
    const bar = this.bars.get(place);
    const pen = this.line.getContext("2d");
    if (!bar || !pen) return;
    this.lately.push(moria);
    if (this.lately.length > 19) this.lately.shift();
    if (this.last && t - this.last.t > 0.12) this.lately = [moria];
    const sorted = [...this.lately].sort((a, b) => a - b);
    const x = bar[0] + share * bar[1];
    const y = this.y(sorted[sorted.length >> 1]);
    pen.fillStyle = this.colour;
    pen.globalAlpha = 0.25;
    pen.fillRect(x - 0.5, this.y(moria) - 0.5, 1.5, 1.5);
    pen.globalAlpha = 1;
    const { last } = this;
    if (last && t - last.t < 0.12 && x >= last.x - 1 && x - last.x < 24) {
      pen.strokeStyle = this.colour;
      pen.lineWidth = 3;
      pen.lineCap = "round";
      pen.beginPath();
      pen.moveTo(last.x, last.y);
      pen.lineTo(x, y);
      pen.stroke();
    }
    this.last = { x, y, t };
  }
}
