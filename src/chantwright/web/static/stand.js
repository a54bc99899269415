// @ts-check
/** The stand: one item at a time, filling the page; keys and pedals; ison and intonation. */
import { Tones } from "./tones.js";

/** @typedef {{name: string, hz: number, id: string, word: string}} Change */
/** @typedef {{ison: Change[], intonation: Array<{hz: number, beats: number}>, tempo: number}} Sound */

/** Points of the screen for a millimetre of the music from which its words have 16 of them. */
const READABLE = 3.5;

class ServiceStand extends HTMLElement {
  /** @type {HTMLElement[]} */
  items = [];
  /** @type {number} */
  at = 0;
  /** @type {Tones} */
  tones = new Tones();
  /** @type {WakeLockSentinel | null} */
  awake = null;
  /** Which of the item's ison notes is held, or would be. */
  /** @type {number} */
  step = 0;
  /** @type {boolean} */
  sounding = false;
  /** @type {number} */
  timer = 0;
  /** @type {string} */
  light = document.documentElement.dataset.light ?? "auto";

  connectedCallback() {
    this.items = [...this.querySelectorAll("article")];
    for (const button of this.querySelectorAll("button")) {
      button.addEventListener("click", () => this.act(button.dataset.do ?? ""));
    }
    document.addEventListener("keydown", (event) => this.key(event));
    document.addEventListener("visibilitychange", () => this.stayAwake());
    for (const kind of ["pointermove", "pointerdown", "keydown"]) {
      document.addEventListener(kind, () => this.stir());
    }
    addEventListener("resize", () => this.fit());
    const asked = Number(location.hash.slice(1));
    this.show(Number.isInteger(asked) ? asked : 0);
    this.letters();
    this.stayAwake();
    this.stir();
  }

  /** Fetch every kind of letter now: an item that is shown later must not have to ask for one. */
  async letters() {
    await Promise.allSettled([...document.fonts].map((face) => face.load()));
    this.dataset.ready = "yes";
    this.fit();
  }

  async stayAwake() {
    if (document.visibilityState !== "visible" || !("wakeLock" in navigator)) return;
    try {
      this.awake = await navigator.wakeLock.request("screen");
    } catch {
      this.awake = null;
    }
  }

  stir() {
    const keys = this.querySelector(".keys");
    keys?.classList.remove("still");
    clearTimeout(this.timer);
    this.timer = setTimeout(() => keys?.classList.add("still"), 3000);
  }

  /** @returns {Sound | null} */
  sound() {
    const told = JSON.parse(this.items[this.at]?.dataset.sound ?? "{}");
    return told.ison ? told : null;
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const inButton = event.target instanceof HTMLButtonElement;
    /** @type {Record<string, string>} */
    const keys = {
      PageDown: "on", ArrowRight: "on", ArrowDown: "on", " ": "on",
      PageUp: "back", ArrowLeft: "back", ArrowUp: "back",
      Enter: "change", ".": "change", Backspace: "unchange", ",": "unchange",
      d: "ison", i: "intonation", n: "dim", f: "fill",
    };
    const what = keys[event.key];
    if (!what || event.ctrlKey || event.metaKey || event.altKey) return;
    if (inButton && (event.key === " " || event.key === "Enter")) return;
    event.preventDefault();
    this.act(what);
  }

  /** @param {string} what */
  act(what) {
    if (what === "on") this.turn(1);
    else if (what === "back") this.turn(-1);
    else if (what === "ison") this.ison(!this.sounding);
    else if (what === "change") this.change(1);
    else if (what === "unchange") this.change(-1);
    else if (what === "intonation") {
      const told = this.sound();
      if (told) this.tones.sing(told.intonation, told.tempo);
    } else if (what === "dim") {
      const root = document.documentElement;
      root.dataset.light = root.dataset.light === "dim" ? (this.light === "dim" ? "dark" : this.light) : "dim";
    } else if (what === "fill") {
      if (document.fullscreenElement) document.exitFullscreen();
      else document.documentElement.requestFullscreen?.();
    }
  }

  /**
   * Sound the ison note of this place, or be still; where the holders join the melody it waits.
   * @param {boolean} on
   */
  ison(on) {
    const changes = this.sound()?.ison ?? [];
    this.sounding = on && changes.length > 0;
    const hz = this.sounding ? changes[this.step].hz : 0;
    if (hz) this.tones.hold(hz);
    else this.tones.still();
    this.querySelector("[data-do=ison]")?.setAttribute("aria-pressed", String(this.sounding));
    this.tell();
  }

  /**
   * Go to the next ison note, or the one before; the first press begins it.
   * @param {1 | -1} by
   */
  change(by) {
    const count = this.sound()?.ison.length ?? 0;
    if (!count) return;
    if (this.sounding) this.step = Math.max(0, Math.min(count - 1, this.step + by));
    this.ison(true);
  }

  /** Say which ison note is held and which is next, and mark it in the music. */
  tell() {
    const item = this.items[this.at];
    const changes = this.sound()?.ison ?? [];
    const held = item?.querySelector("[data-held]");
    const ahead = /** @type {HTMLButtonElement | null} */ (item?.querySelector("[data-ahead]") ?? null);
    if (!held || !ahead || !changes.length) return;
    held.textContent = changes[this.step].name;
    const next = changes[this.step + 1];
    if (!this.sounding) ahead.textContent = "sound it";
    else if (next) ahead.textContent = `then ${next.name} at “${next.word}”`;
    else ahead.textContent = "to the end";
    const places = new Map(changes.map((c, i) => [c.id, i]));
    for (const music of item.querySelectorAll(".music")) {
      let place = 0;
      for (const letter of music.querySelectorAll("text.ison")) {
        // A letter in brackets goes on from the line before: it belongs to the change before it.
        place = places.get(letter.id.replace(/^.*ison[.-]/, "")) ?? place;
        letter.classList.toggle("held", this.sounding && place === this.step);
        letter.classList.toggle("past", this.sounding && place < this.step);
      }
    }
  }

  /**
   * Turn the page: within an item that is longer than the screen, then to the next.
   * @param {1 | -1} by
   */
  turn(by) {
    const music = this.items[this.at]?.querySelector(".music:not([hidden])");
    const room = music ? music.scrollHeight - music.clientHeight : 0;
    if (music && room > 1) {
      const there = music.scrollTop;
      if (by > 0 ? there < room - 1 : there > 1) {
        music.scrollTop = there + by * 0.85 * music.clientHeight;
        return;
      }
    }
    this.show(this.at + by);
  }

  /** @param {number} wanted */
  show(wanted) {
    const last = this.items.length - 1;
    const before = this.at;
    this.at = Math.max(0, Math.min(last, wanted));
    this.items.forEach((item, i) => item.classList.toggle("here", i === this.at));
    history.replaceState(null, "", `#${this.at}`);
    const status = this.querySelector("[role=status]");
    if (status) status.textContent = `${this.at + 1} of ${this.items.length}`;
    if (this.at !== before) this.step = 0;
    this.ison(this.sounding);
    this.fit();
  }

  /** Make the music as large as the page allows: in the cut that fills it best, in one to three columns. */
  fit() {
    const cuts = /** @type {HTMLElement[]} */ ([...(this.items[this.at]?.querySelectorAll(".music") ?? [])]);
    if (!cuts.length) return;
    const shown = cuts.find((c) => !c.hidden) ?? cuts[0];
    shown.scrollTop = 0;
    const wide = shown.clientWidth;
    const high = shown.clientHeight;
    let best = { cut: shown, columns: 1, width: 0, size: 0 };
    for (const cut of cuts) {
      const shapes = this.shapes(cut);
      for (const columns of [1, 2, 3]) {
        const rows = Math.ceil(shapes.length / columns);
        let tall = 0;
        for (let c = 0; c < columns; c++) {
          const here = shapes.slice(c * rows, (c + 1) * rows);
          tall = Math.max(tall, here.reduce((t, s) => t + s.tall + 0.02, 0));
        }
        const room = wide / columns - (columns > 1 ? 24 : 0);
        const width = Math.min(room, tall > 0 ? high / tall : room);
        const size = width / Number(cut.dataset.mm);
        if (size > best.size) best = { cut, columns, width, size };
      }
    }
    // Too much for this screen: large enough to read, and longer than the page.
    if (best.size < READABLE) {
      const fits = cuts.filter((c) => wide / Number(c.dataset.mm) >= READABLE);
      const cut = fits.at(-1) ?? cuts[0];
      best = { cut, columns: 1, width: wide, size: wide / Number(cut.dataset.mm) };
    }
    for (const cut of cuts) cut.hidden = cut !== best.cut;
    const figures = [...best.cut.querySelectorAll("figure")];
    const shapes = this.shapes(best.cut);
    const style = best.cut.style;
    style.display = "grid";
    style.gridAutoFlow = "column";
    style.gridTemplateRows = `repeat(${Math.ceil(figures.length / best.columns)}, auto)`;
    style.justifyContent = "start";
    style.columnGap = "24px";
    style.alignContent = "start";
    figures.forEach((f, i) => {
      f.style.width = `${best.width * shapes[i].part}px`;
      f.style.margin = `0 0 ${best.width * 0.02}px`;
    });
    for (const cut of cuts) if (cut !== best.cut) cut.style.display = "none";
  }

  /**
   * @param {HTMLElement} cut
   * @returns {Array<{part: number, tall: number}>}
   */
  shapes(cut) {
    return [...cut.querySelectorAll("figure")].map((f) => {
      const box = f.querySelector("svg")?.viewBox.baseVal;
      const part = Number((f.className.match(/w(\d+)/) ?? [])[1] ?? 100) / 100;
      return { part, tall: box && box.width ? (box.height / box.width) * part : 0.2 };
    });
  }
}
customElements.define("service-stand", ServiceStand);
