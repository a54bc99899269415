/**
 * The drone of a hymn: it holds the base, or follows the ison of the note that is sung or played.
 */
import { keepAwake } from "./awake.js";
import { Drone } from "./drone.js";
import { need, press, pressed } from "./player.js";

/** @typedef {import("./player.js").HymnData} HymnData */

/** The drone and its switches. */
export class Ison {
  /**
   * @param {HTMLElement} article
   * @param {HymnData} data
   * @param {import("./singing.js").Sound} sound
   */
  constructor(article, data, sound) {
    this.data = data;
    this.sound = sound;
    this.button = /** @type {HTMLButtonElement} */ (need(article, ".drone"));
    this.loudness = /** @type {HTMLInputElement} */ (need(article, ".loudness"));
    this.shift = /** @type {HTMLSelectElement} */ (need(article, ".shift"));
    this.shift.value = "0";
    this.moving = /** @type {HTMLSelectElement} */ (need(article, ".moving"));
    this.places = new Map(data.notes.map((n, i) => [n.id, i]));
    this.moria = 72 * Math.log2(data.base.hz / data.zero_hz);
    this.place = -1;
    press(article, ".drone", () => this.toggle());
    this.loudness.addEventListener("input", () => this.tune());
    for (const choice of [this.shift, this.moving]) {
      choice.addEventListener("change", () => this.tune());
    }
  }

  get sounding() {
    return this.button.getAttribute("aria-pressed") === "true";
  }

  /**
   * Moria of the drone at a note; where the score says unison it goes with the melody.
   * @param {number} place of a note, -1 for none
   */
  moriaAt(place) {
    if (this.moving.value === "hold" || place < 0) return this.moria;
    return this.data.notes[place].ison ?? this.data.notes[place].moria;
  }

  /** @param {number} moria */
  hz(moria) {
    return this.data.zero_hz * 2 ** ((moria + Number(this.shift.value)) / 72);
  }

  /** Every pitch that the drone may have; none while it is silent. */
  pitches() {
    if (!this.sounding) return [];
    const all = this.data.notes.flatMap((n) => (n.ison === null ? [] : [n.ison]));
    const held = this.moving.value === "hold" ? [] : all;
    return [...new Set([this.moria, ...held])].map((m) => this.hz(m));
  }

  async toggle() {
    const on = !this.sounding;
    pressed(this.button, on);
    keepAwake(this, on);
    const context = await this.sound.open();
    this.sound.drone ??= new Drone(context);
    if (this.sounding) this.tune();
    else this.sound.drone.hush();
  }

  tune() {
    if (!this.sounding) return;
    const loud = Number(this.loudness.value) / 100;
    this.sound.drone?.sound(this.hz(this.moriaAt(this.place)), loud);
  }

  /**
   * The note that is sung or played.
   * @param {string} id empty when there is none
   */
  at(id) {
    const place = this.places.get(id) ?? -1;
    // Between two notes the drone stays where it is.
    if (place < 0 || place === this.place) return;
    const before = this.moriaAt(this.place);
    this.place = place;
    if (this.moriaAt(place) !== before) this.tune();
  }

  /** Back to the base, as when nothing is sung. */
  rest() {
    this.place = -1;
    this.tune();
  }
}
