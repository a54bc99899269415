// @ts-check
/** The stand: one item at a time, filling the page; keys and pedals; ison and intonation. */
import { Tones } from "./tones.js";

/** @typedef {{name: string, hz: number, id: string, word: string}} Change */
/** @typedef {{ison: Change[], intonation: Array<{hz: number, beats: number}>, tempo: number}} Sound */

/** Points of the screen for a millimetre of the music from which its words have 16 of them. */
const READABLE = 3.5;

/** Points of the screen by which a line that is wholly seen may be cut: the white round its ink. */
const SLACK = 2;

/** Lines of a page from which its last one is shown again at the head of the next. */
const ENOUGH = 4;

/** Milliseconds after which a page that a finger moved has come to rest. */
const RESTED = 120;

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
  /** @type {number} */
  rest = 0;
  /** @type {boolean} */
  shown = false;
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
    addEventListener("resize", () => this.fit(this.read()));
    this.addEventListener("scroll", () => this.moved(), { capture: true, passive: true });
    const asked = Number(location.hash.slice(1));
    this.show(Number.isInteger(asked) ? asked : 0);
    this.letters();
    this.stayAwake();
    this.stir();
  }

  /** Fetch every kind of letter now: an item that is shown later must not have to ask for one. */
  async letters() {
    await Promise.allSettled([...document.fonts].map((face) => face.load()));
    const read = this.read();
    this.fit(read);
    this.dataset.ready = "yes";
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
    } else if (what === "more") {
      const read = this.read();
      const button = this.querySelector("[data-do=more]");
      button?.setAttribute("aria-expanded", String(button.getAttribute("aria-expanded") !== "true"));
      this.fit(read);
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
    const music = this.long();
    if (!music) return this.show(this.at + by);
    const lines = this.lines(music);
    const high = music.clientHeight;
    const first = this.first(lines, music);
    const line = lines[first];
    const inside = music.scrollTop - line.top;
    if (by > 0) {
      if (line.bottom - music.scrollTop > high + SLACK) {
        // A line that is taller than the page: on within it.
        music.scrollTop += Math.min(0.85 * high, line.bottom - music.scrollTop - high);
      } else {
        const last = this.last(lines, first, high);
        if (last === lines.length - 1) return this.show(this.at + 1);
        music.scrollTop = lines[this.next(first, last)].top;
      }
    } else if (inside > SLACK) music.scrollTop = Math.max(line.top, music.scrollTop - 0.85 * high);
    else {
      const before = this.pages(lines, high).filter((top) => top < first).at(-1);
      if (before === undefined) return this.show(this.at - 1);
      music.scrollTop = lines[before].top;
    }
    this.settle();
  }

  /** @returns {HTMLElement | null} The music that is shown, where it is longer than the page. */
  long() {
    return this.items[this.at]?.querySelector(".music.long:not([hidden])") ?? null;
  }

  /**
   * Where the lines lie, from the top of the music.
   * @param {HTMLElement} music
   * @returns {Array<{top: number, bottom: number}>}
   */
  lines(music) {
    const from = music.getBoundingClientRect().top - music.scrollTop;
    return [...music.querySelectorAll("figure")].map((f) => {
      const box = f.getBoundingClientRect();
      return { top: box.top - from, bottom: box.bottom - from };
    });
  }

  /**
   * The line at the top of the page.
   * @param {Array<{top: number, bottom: number}>} lines
   * @param {HTMLElement} music
   */
  first(lines, music) {
    const found = lines.findIndex((l) => l.bottom > music.scrollTop + SLACK);
    return found < 0 ? lines.length - 1 : found;
  }

  /**
   * The last line that is wholly seen under the one at the top.
   * @param {Array<{top: number, bottom: number}>} lines
   * @param {number} first
   * @param {number} high
   */
  last(lines, first, high) {
    let last = first;
    while (last + 1 < lines.length && lines[last + 1].bottom <= lines[first].top + high + SLACK) last++;
    return last;
  }

  /**
   * The line at the top of the next page: the last one once more, where a page has room for it, so
   * that it can be turned while that line is still sung.
   * @param {number} first
   * @param {number} last
   */
  next(first, last) {
    return last - first + 1 >= ENOUGH ? last : last + 1;
  }

  /**
   * The lines at the top of the pages.
   * @param {Array<{top: number, bottom: number}>} lines
   * @param {number} high
   */
  pages(lines, high) {
    const tops = [0];
    for (;;) {
      const first = tops[tops.length - 1];
      const last = this.last(lines, first, high);
      if (last === lines.length - 1) return tops;
      tops.push(this.next(first, last));
    }
  }

  /** While a finger moves the page all is shown; when it rests, whole lines. */
  moved() {
    const music = this.long();
    if (!music) return;
    clearTimeout(this.rest);
    this.rest = setTimeout(() => this.settle(), RESTED);
  }

  /** Show whole lines only, and say which page of the item this is. */
  settle() {
    let where = "";
    const music = this.long();
    if (music) {
      const lines = this.lines(music);
      const high = music.clientHeight;
      const first = this.first(lines, music);
      const last = this.last(lines, first, high);
      const tops = this.pages(lines, high);
      const page = tops.filter((top) => top <= first).length;
      const end = lines[last].bottom - music.scrollTop;
      music.style.clipPath = end < high && last < lines.length - 1 ? `inset(0 0 ${high - end}px)` : "";
      music.querySelectorAll("figure").forEach((f, i) => {
        f.classList.toggle("again", i === first && tops.includes(i) && i > 0 && this.twice(tops, i, lines, high));
      });
      where = ` · ${page}/${tops.length}`;
    }
    const status = this.querySelector("[role=status]");
    const said = `${this.at + 1} of ${this.items.length}${where}`;
    if (status && status.textContent !== said) status.textContent = said;
  }

  /**
   * Whether a line at the top of a page was the last of the page before.
   * @param {number[]} tops
   * @param {number} top
   * @param {Array<{top: number, bottom: number}>} lines
   * @param {number} high
   */
  twice(tops, top, lines, high) {
    return this.last(lines, tops[tops.indexOf(top) - 1], high) === top;
  }

  /** @param {number} wanted */
  show(wanted) {
    const last = this.items.length - 1;
    const before = this.at;
    this.at = Math.max(0, Math.min(last, wanted));
    if (this.at !== wanted && this.at === before && this.shown) return; // the first or last page stays
    this.shown = true;
    this.items.forEach((item, i) => item.classList.toggle("here", i === this.at));
    history.replaceState(null, "", `#${this.at}`);
    if (this.at !== before) this.step = 0;
    this.ison(this.sounding);
    this.fit();
  }

  /** @returns {number} How much of the item stands before the line at the top of the page (0 to 1). */
  read() {
    const music = this.long();
    if (!music) return 0;
    const lines = this.lines(music);
    return this.first(lines, music) / lines.length;
  }

  /**
   * Make the music as large as the page allows: in the cut that fills it best, in one to three columns.
   * @param {number} read How much of it was read before.
   */
  fit(read = 0) {
    const cuts = /** @type {HTMLElement[]} */ ([...(this.items[this.at]?.querySelectorAll(".music") ?? [])]);
    if (!cuts.length) return this.settle();
    for (const cut of cuts) {
      cut.classList.remove("long", "snap");
      cut.style.clipPath = cut.style.paddingBottom = "";
    }
    const shown = cuts.find((c) => !c.hidden) ?? cuts[0];
    shown.scrollTop = 0;
    const wide = shown.clientWidth;
    const edges = getComputedStyle(shown);
    const high = shown.clientHeight - parseFloat(edges.paddingTop) - parseFloat(edges.paddingBottom);
    let best = { cut: shown, columns: 1, width: 0, size: 0 };
    for (const cut of cuts) {
      const shapes = this.shapes(cut);
      const widest = Math.max(...shapes.map((s) => s.part));
      for (const columns of [1, 2, 3]) {
        const rows = Math.ceil(shapes.length / columns);
        let tall = 0;
        for (let c = 0; c < columns; c++) {
          const here = shapes.slice(c * rows, (c + 1) * rows);
          tall = Math.max(tall, here.reduce((t, s) => t + s.tall + 0.02, 0));
        }
        const room = (wide / columns - (columns > 1 ? 24 : 0)) / widest;
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
    const rows = Math.ceil(figures.length / best.columns);
    best.cut.style.display = "block";
    best.cut.style.columns = best.columns > 1 ? String(best.columns) : "";
    figures.forEach((f, i) => {
      f.style.width = `${best.width * shapes[i].part}px`;
      f.style.margin = `0 0 ${best.width * 0.02}px`;
      f.style.breakBefore = i && i % rows === 0 && best.columns > 1 ? "column" : "";
    });
    for (const cut of cuts) if (cut !== best.cut) cut.style.display = "none";
    const bottom = best.cut.getBoundingClientRect().bottom;
    if (figures.some((f) => f.getBoundingClientRect().bottom > bottom + SLACK)) {
      best.cut.classList.add("long");
      // Room under the last line, so that any line can come to the top.
      const last = figures[figures.length - 1].getBoundingClientRect().height;
      best.cut.style.paddingBottom = `${Math.max(0, best.cut.clientHeight - last)}px`;
      const lines = this.lines(best.cut);
      // A line that is taller than the page must be able to rest anywhere.
      const tallest = Math.max(...lines.map((l) => l.bottom - l.top));
      best.cut.classList.toggle("snap", tallest <= best.cut.clientHeight);
      best.cut.scrollTop = lines[Math.min(lines.length - 1, Math.round(read * lines.length))].top;
    }
    this.settle();
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
