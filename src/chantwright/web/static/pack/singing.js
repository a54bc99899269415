/**
 * The microphone, the live marks and the verdict of one hymn. Sound goes from the microphone to the
 * pitch follower and no further: it is neither kept nor sent. When the singer stops, the microphone
 * is let go.
 */
import { Tracker } from "./chain.js";
import { judge } from "./hearing.js";
import { droneShare, LEAKING, printed, SILENCE_FLOOR, voiced } from "./line.js";
import { keepAwake } from "./awake.js";
import { Ison } from "./ison.js";
import { Lights, need, press, pressed } from "./player.js";
import { Marks } from "./marks.js";
import {
  allKept, EARPHONES, forget, handinText, keep, nickname, resultOf, sentences,
} from "./results.js";

/** @typedef {import("./pitch.js").Frame} Frame */
/** @typedef {import("./player.js").HymnData} HymnData */
/** @typedef {import("./player.js").Player} Player */

const LONGEST = 15 * 60;
const REST_AFTER = 20 * 60;
let sungToday = 0;

const WORKS = " Playing, drone and score work.";
const DEAF = `This browser has no way to listen.${WORKS}`;

/**
 * @param {string} tag
 * @param {string} text
 */
function made(tag, text) {
  const element = document.createElement(tag);
  element.textContent = text;
  return element;
}

/** Why this page cannot listen; empty where it can. */
export function whyDeaf() {
  if (location.protocol === "file:") {
    return `This page was opened from a file.${WORKS} Hardly any phone lets such a page listen, and `
      + "not every computer. For singing, open the pack from an address that begins with https.";
  }
  if (!window.isSecureContext) {
    return "This page came without encryption (http), so it may not listen and is not kept for "
      + `flight mode.${WORKS} Ask for an https address.`;
  }
  if (!navigator.mediaDevices || !window.AudioWorkletNode) {
    return DEAF;
  }
  return "";
}

/** Sound of a page, made at the first wish for it. */
export class Sound {
  constructor() {
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {import("./drone.js").Drone | null} */
    this.drone = null;
    this.prepared = false;
  }

  async open() {
    this.context ??= new AudioContext();
    if (this.context.state !== "running") await this.context.resume();
    return this.context;
  }

  async worklet() {
    const context = await this.open();
    if (!this.prepared) {
      const inline = document.getElementById("worklet-code");
      const code = inline?.textContent ?? "";
      await context.audioWorklet.addModule(
        inline ? `data:text/javascript;base64,${btoa(code)}` : "worklet.js",
      );
      this.prepared = true;
    }
    return new AudioWorkletNode(context, "chant-pitch", { numberOfOutputs: 0 });
  }
}

/** One hymn's listening. */
export class Singing {
  /**
   * @param {HTMLElement} article
   * @param {HymnData} data
   * @param {Player} player
   * @param {Sound} sound
   */
  constructor(article, data, player, sound) {
    this.data = data;
    this.player = player;
    this.sound = sound;
    this.button = /** @type {HTMLButtonElement} */ (need(article, ".listen"));
    this.heard = /** @type {HTMLElement} */ (need(article, ".heard"));
    this.warn = /** @type {HTMLElement} */ (need(article, ".warn"));
    this.verdict = /** @type {HTMLElement} */ (need(article, ".verdict"));
    this.past = /** @type {HTMLElement} */ (need(article, ".past ul"));
    this.text = /** @type {HTMLTextAreaElement} */ (need(article, ".text"));
    this.singer = /** @type {HTMLInputElement} */ (need(article, ".singer"));
    this.marks = new Marks(article, data, (text) => {
      this.heard.textContent = text;
    });
    this.now = new Lights(data, "now");
    this.off = new Lights(data, "off");
    /** @type {Frame[]} */
    this.frames = [];
    /** @type {Frame[]} */
    this.waiting = [];
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {AudioNode[]} */
    this.nodes = [];
    this.loudest = -120;
    this.followed = 0;
    this.ison = new Ison(article, data, sound);
    player.heard = { at: (id) => this.ison.at(id), rest: () => this.ison.rest() };
    this.tracker = this.newTracker();
    press(article, ".listen", () => this.toggle());
    this.singer.value = nickname();
    this.singer.addEventListener("input", () => {
      nickname(this.singer.value);
      this.showPast();
    });
    press(article, ".copy", () => this.copy());
    press(article, ".save", () => this.save());
    press(article, ".forget", () => {
      forget();
      this.singer.value = "";
      this.showPast();
    });
    const why = whyDeaf();
    if (why) {
      this.warn.textContent = why;
      this.button.disabled = location.protocol !== "file:" || !navigator.mediaDevices;
    }
    this.showPast();
  }

  options() {
    return {
      zeroHz: this.data.zero_hz,
      tempo: this.data.tempo,
      limit: this.data.limit,
      drones: this.ison.pitches(),
    };
  }

  newTracker() {
    return new Tracker(this.data.notes, this.options());
  }

  async toggle() {
    this.button.disabled = true;
    try {
      if (this.stream) this.stop();
      else await this.start();
    } finally {
      this.button.disabled = false;
    }
  }

  async start() {
    this.player.audio.pause();
    this.warn.textContent = "";
    this.verdict.replaceChildren();
    this.off.show([]);
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({
        audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
      });
    } catch (error) {
      const name = /** @type {Error} */ (error).name;
      this.warn.textContent = name === "NotFoundError"
        ? "No microphone was found."
        : "The microphone was not allowed. Allow it for this page in your browser, and try again.";
      return;
    }
    let node;
    try {
      node = await this.sound.worklet();
    } catch {
      for (const track of this.stream.getTracks()) track.stop();
      this.stream = null;
      this.warn.textContent = DEAF;
      return;
    }
    const context = await this.sound.open();
    const source = context.createMediaStreamSource(this.stream);
    source.connect(node);
    this.nodes = [source, node];
    const settings = this.stream.getAudioTracks()[0].getSettings();
    if (settings.noiseSuppression || settings.autoGainControl) {
      this.warn.textContent = "This device changes the sound of the microphone by itself, "
        + "so the verdict may be wrong.";
    }
    this.frames = [];
    this.waiting = [];
    this.loudest = -120;
    this.tracker = this.newTracker();
    this.marks.open();
    pressed(this.button, true, "Stop, and tell me");
    this.heard.textContent = "Listening. Begin when you like.";
    node.port.onmessage = (event) => {
      this.frames.push(event.data);
      this.waiting.push(event.data);
      if (this.frames.length > LONGEST * 100) this.stop();
    };
    keepAwake(this, true);
    requestAnimationFrame(() => this.draw());
  }

  draw() {
    if (!this.stream) return;
    for (const frame of this.waiting.splice(0)) this.follow(frame);
    requestAnimationFrame(() => this.draw());
  }

  /** @param {Frame} frame */
  follow(frame) {
    this.loudest = Math.max(this.loudest - 0.01, frame.level);
    const quiet = frame.level < Math.max(SILENCE_FLOOR, this.loudest - 26);
    if (!frame.hz || frame.clarity < 0.84 || quiet) return;
    const here = this.tracker.push(frame);
    this.marks.point(here.moria, here.place, here.share);
    const note = this.data.notes[here.place];
    this.ison.at(note.id);
    this.now.show([note.id, note.syllable]);
    this.followed += 1;
    if (this.followed % 200 === 0) this.watch();
  }

  /** Say at once what spoils everything after it. */
  watch() {
    const lately = this.frames.slice(-300);
    if (lately.filter((f) => f.peak > 0.985).length > 3) {
      this.warn.textContent = "Too loud for the microphone: hold it further away.";
    } else {
      const heard = voiced(this.frames.slice(-600));
      if (droneShare(heard, this.ison.pitches()) > LEAKING) {
        this.warn.textContent = EARPHONES;
      }
    }
  }

  stop() {
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.stream = null;
    for (const node of this.nodes) {
      if (node instanceof AudioWorkletNode) {
        node.port.postMessage("end");
        node.port.onmessage = null;
      }
      node.disconnect();
    }
    this.nodes = [];
    keepAwake(this, false);
    this.ison.rest();
    this.now.show([]);
    pressed(this.button, false, "Listen to me");
    this.heard.textContent = "";
    this.marks.close();
    this.tell();
    this.button.scrollIntoView();
  }

  tell() {
    const verdict = judge(this.frames, this.data.notes, this.options());
    const { sum, more } = sentences(verdict, this.data);
    const first = made("p", sum);
    first.className = "sum";
    this.verdict.replaceChildren(first, ...more.map((sentence) => made("p", sentence)));
    if (verdict.heard) {
      const table = this.table(verdict);
      if (table) this.verdict.append(table);
      this.marks.told(verdict.notes);
      const wrong = verdict.notes.filter((n) => n.state !== "right").map((n) => n.id);
      this.off.show(wrong);
      keep(resultOf(verdict, this.data));
      this.showPast();
    }
    sungToday += this.frames.length / 100;
    if (sungToday > REST_AFTER) {
      this.warn.textContent = "You have sung for a good while. Rest your voice now.";
    }
    this.article().dispatchEvent(new CustomEvent("verdict", { detail: verdict, bubbles: true }));
  }

  article() {
    return /** @type {HTMLElement} */ (this.verdict.closest("article"));
  }

  /** @param {import("./hearing.js").Verdict} verdict */
  table(verdict) {
    const words = new Map(this.data.words);
    const rows = verdict.notes.flatMap((n, i) => (n.state === "right" ? [] : [{ n, i }]));
    if (!rows.length) return null;
    const table = document.createElement("table");
    table.createCaption().textContent =
      rows.length > 12 ? "The first twelve to look at" : "To look at";
    const heads = ["Syllable", "Note", "How it was"].map((text) => made("th", text));
    table.insertRow().append(...heads);
    for (const { n, i } of rows.slice(0, 12)) {
      const asked = this.data.notes[i];
      const size = Math.round(Math.abs(n.off) * 2) / 2;
      const said = n.state === "left out" ? "not sung" : `${size} moria too ${n.state}`;
      const texts = [words.get(asked.syllable) ?? "", printed(asked.name), said];
      table.insertRow().append(...texts.map((text) => made("td", text)));
    }
    return table;
  }

  showPast() {
    const own = allKept().filter((r) => r.hymn === this.data.file);
    const items = own.slice(-10).reverse().map((result) => {
      const when = new Date(result.sung).toLocaleString();
      const right = result.notes - result.wrong - result.skipped;
      return made("li", `${when}: ${right} of ${result.notes} notes in place`);
    });
    if (!items.length) items.push(made("li", "Nothing yet."));
    this.past.replaceChildren(...items);
    const last = own[own.length - 1];
    this.text.value = last
      ? handinText(last, this.singer.value)
      : "Sing the hymn first; the result will stand here.";
  }

  async copy() {
    this.text.select();
    try {
      await navigator.clipboard.writeText(this.text.value);
      this.heard.textContent = "Copied.";
    } catch {
      this.heard.textContent = "Selected: copy it with the keys of your device.";
    }
  }

  save() {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([this.text.value], { type: "text/plain" }));
    link.download = `result-${this.data.id}.txt`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }
}
