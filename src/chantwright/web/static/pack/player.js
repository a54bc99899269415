/**
 * Plays a hymn's recordings: place, pace with the pitch kept, phrases, intonation; and lights up
 * the notes and syllables that are heard.
 */

import { keepAwake } from "./awake.js";

/**
 * @typedef {object} Track
 * @property {Record<string, string>} files
 * @property {number} seconds
 * @property {[string, number, number, string][]} parts
 * @property {[string, number, number][]} notes
 * @property {[string, number, number][]} syllables
 */

/**
 * @typedef {object} HymnData
 * @property {string} id
 * @property {string} file
 * @property {string} title
 * @property {{name: string, hz: number}} base
 * @property {number} zero_hz
 * @property {number} tempo
 * @property {number} limit
 * @property {[string, string][]} phrases
 * @property {[string, string][]} words
 * @property {(import("./chain.js").Asked & {syllable: string, degree: number, ison: number | null})[]} notes
 * @property {string[]} prefixes
 * @property {Record<string, Track>} tracks
 */

/** Kind of recording that this browser plays. */
export function playableKind() {
  return new Audio().canPlayType("audio/ogg; codecs=opus") ? "opus" : "mp3";
}

/**
 * @template {Element} T
 * @param {ParentNode} root
 * @param {string} selector
 * @returns {T}
 */
export function need(root, selector) {
  const found = root.querySelector(selector);
  if (!found) throw new Error(`the page lacks ${selector}`);
  return /** @type {T} */ (found);
}

/**
 * Do something when a button of the page is pressed.
 * @param {ParentNode} root
 * @param {string} selector
 * @param {() => unknown} then
 */
export function press(root, selector, then) {
  need(root, selector).addEventListener("click", () => void then());
}

/**
 * Show whether a button is down.
 * @param {HTMLElement} button
 * @param {boolean} down
 * @param {string} [text] what it is called then
 */
export function pressed(button, down, text) {
  button.setAttribute("aria-pressed", String(down));
  if (text) button.textContent = text;
}

/** Marks notes and syllables in every drawing of a score. */
export class Lights {
  /**
   * @param {HymnData} data
   * @param {string} name class
   */
  constructor(data, name) {
    this.data = data;
    this.name = name;
    /** @type {string[]} */
    this.lit = [];
  }

  /** @param {string} id */
  drawn(id) {
    return this.data.prefixes.flatMap((p) => document.getElementById(p + id) ?? []);
  }

  /** @param {string[]} ids */
  show(ids) {
    if (ids.length === this.lit.length && ids.every((id, i) => id === this.lit[i])) return false;
    for (const id of this.lit) for (const e of this.drawn(id)) e.classList.remove(this.name);
    for (const id of ids) for (const e of this.drawn(id)) e.classList.add(this.name);
    this.lit = ids;
    return true;
  }
}

/**
 * The row that sounds at a moment.
 * @param {[string, number, number][]} rows in order of time
 * @param {number} time
 */
export function soundingAt(rows, time) {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle][1] <= time) low = middle + 1;
    else high = middle;
  }
  const row = rows[low - 1];
  return row && time < row[2] ? row[0] : "";
}

/** @param {number} seconds */
function clock(seconds) {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** The desk of one hymn. */
export class Player {
  /**
   * @param {HTMLElement} article
   * @param {HymnData} data
   */
  constructor(article, data) {
    this.article = article;
    this.data = data;
    // The page's own player is for browsers without scripts; it goes on without its controls.
    this.audio = article.querySelector("audio") ?? new Audio();
    this.audio.controls = false;
    this.audio.preload = "none";
    this.lights = new Lights(data, "now");
    this.stopAt = Infinity;
    /** @type {{at: (id: string) => void, rest: () => void} | null} told of each note that sounds */
    this.heard = null;
    /** @type {{at: number, id: string}[]} what was lit when, for who wants to measure */
    this.log = [];
    this.play = /** @type {HTMLButtonElement} */ (need(article, ".play"));
    this.place = /** @type {HTMLInputElement} */ (need(article, ".place"));
    this.clock = need(article, ".clock");
    this.mode = /** @type {HTMLSelectElement} */ (need(article, ".mode"));
    this.pace = /** @type {HTMLSelectElement} */ (need(article, ".pace"));
    this.phrase = /** @type {HTMLSelectElement} */ (need(article, ".phrase"));
    this.fault = /** @type {HTMLElement} */ (need(article, ".fault"));
    this.load();
    press(article, ".play", () => this.toggle());
    press(article, ".intone", () => this.part("intonation"));
    press(article, ".again", () => this.from(this.phrase.value));
    this.phrase.addEventListener("change", () => this.from(this.phrase.value));
    this.mode.addEventListener("change", () => this.load());
    this.pace.addEventListener("change", () => this.paced());
    this.place.addEventListener("input", () => this.seek(Number(this.place.value)));
    for (const event of ["play", "pause", "ended"]) {
      this.audio.addEventListener(event, () => this.shown());
    }
    this.audio.addEventListener("error", () => {
      this.fault.textContent = "The recording could not be loaded. Go online once, and try again.";
    });
    need(article, ".score").addEventListener("click", (event) => {
      const id = this.idOf(/** @type {Element} */ (event.target));
      if (id) this.fromNote(id);
    });
  }

  get track() {
    return this.data.tracks[this.mode.value];
  }

  load() {
    this.audio.pause();
    const inline = document.getElementById(`${this.data.id}-${this.mode.value}`);
    if (inline) {
      const octets = Uint8Array.from(atob(inline.textContent ?? ""), (c) => c.charCodeAt(0));
      this.audio.src = URL.createObjectURL(new Blob([octets], { type: "audio/mpeg" }));
    } else {
      this.audio.src = this.track.files[playableKind()];
    }
    this.place.max = String(this.track.seconds);
    this.stopAt = Infinity;
    this.paced();
    this.shown();
  }

  paced() {
    this.audio.preservesPitch = true;
    this.audio.defaultPlaybackRate = Number(this.pace.value) / 100;
    this.audio.playbackRate = Number(this.pace.value) / 100;
  }

  toggle() {
    if (this.audio.paused) void this.start();
    else this.audio.pause();
  }

  async start() {
    this.fault.textContent = "";
    try {
      await this.audio.play();
    } catch (error) {
      if (/** @type {Error} */ (error).name !== "AbortError") {
        this.fault.textContent = "This browser would not play the recording.";
      }
    }
  }

  /** @param {number} seconds */
  seek(seconds) {
    this.stopAt = Infinity;
    this.audio.currentTime = seconds;
    this.frame();
  }

  /** @param {string} kind of part: play it alone */
  part(kind) {
    const part = this.track.parts.find((p) => p[0] === kind);
    if (!part) return;
    this.audio.currentTime = Math.max(0, part[1] - 0.05);
    this.stopAt = part[2] + 0.1;
    void this.start();
  }

  /** @param {string} phrase id */
  from(phrase) {
    const part = this.track.parts.find((p) => p[0] === "phrase" && p[3] === phrase);
    if (!part) return;
    this.seek(Math.max(0, part[1] - 0.05));
    void this.start();
  }

  /** @param {string} id of a note */
  fromNote(id) {
    const row = this.track.notes.find((n) => n[0] === id || n[0].startsWith(`${id}n`));
    if (!row) return;
    this.seek(row[1]);
    void this.start();
  }

  /** @param {Element} target */
  idOf(target) {
    const prefixes = this.data.prefixes;
    for (let e = /** @type {Element | null} */ (target); e && e !== this.article; e = e.parentElement) {
      const prefix = e.id && prefixes.find((p) => e?.id.startsWith(p));
      if (prefix) return e.id.slice(prefix.length);
    }
    return "";
  }

  shown() {
    const playing = !this.audio.paused && !this.audio.ended;
    pressed(this.play, playing, playing ? "Pause" : "Play");
    keepAwake(this, playing);
    if (playing) requestAnimationFrame(() => this.tick());
    else {
      this.frame();
      this.heard?.rest();
    }
  }

  tick() {
    if (this.audio.paused) return;
    if (this.audio.currentTime >= this.stopAt) {
      this.stopAt = Infinity;
      this.audio.pause();
      return;
    }
    this.frame();
    requestAnimationFrame(() => this.tick());
  }

  frame() {
    const now = this.audio.currentTime;
    const note = soundingAt(this.track.notes, now);
    const syllable = soundingAt(this.track.syllables, now);
    if (this.lights.show([note, syllable].filter(Boolean))) {
      if (this.log.length > 500) this.log.shift();
      this.log.push({ at: now, id: note });
      if (!this.audio.paused) this.heard?.at(note);
      const phrase = this.data.notes.find((n) => n.id === note)?.phrase;
      if (phrase) this.phrase.value = phrase;
    }
    if (document.activeElement !== this.place) this.place.value = String(now);
    this.place.setAttribute("aria-valuetext", `${clock(now)} of ${clock(this.track.seconds)}`);
    this.clock.textContent = clock(now);
  }
}
