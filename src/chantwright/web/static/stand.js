// @ts-check
/** The stand: one item at a time, filling the page; keys and pedals; ison and intonation. */
import { Tones } from "./tones.js";

/** @typedef {{ison: Record<string, number>, held: string, intonation: Array<{hz: number, beats: number}>, tempo: number}} Sound */

class ServiceStand extends HTMLElement {
  /** @type {HTMLElement[]} */
  items = [];
  /** @type {number} */
  at = 0;
  /** @type {Tones} */
  tones = new Tones();
  /** @type {WakeLockSentinel | null} */
  awake = null;
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
      d: "ison", i: "intonation", n: "dim", f: "fill",
    };
    const what = keys[event.key];
    if (!what || event.ctrlKey || event.metaKey || event.altKey) return;
    if (inButton && event.key === " ") return;
    event.preventDefault();
    this.act(what);
  }

  /** @param {string} what */
  act(what) {
    if (what === "on") this.show(this.at + 1);
    else if (what === "back") this.show(this.at - 1);
    else if (what === "ison") this.ison();
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

  ison() {
    const told = this.sound();
    const button = this.querySelector("[data-do=ison]");
    if (this.tones.held || !told) {
      this.tones.still();
      button?.setAttribute("aria-pressed", "false");
      return;
    }
    const hz = told.ison[told.held] ?? Object.values(told.ison)[0];
    if (!hz) return;
    this.tones.hold(hz);
    button?.setAttribute("aria-pressed", "true");
  }

  /** @param {number} wanted */
  show(wanted) {
    const last = this.items.length - 1;
    this.at = Math.max(0, Math.min(last, wanted));
    this.items.forEach((item, i) => item.classList.toggle("here", i === this.at));
    history.replaceState(null, "", `#${this.at}`);
    const status = this.querySelector("[role=status]");
    if (status) status.textContent = `${this.at + 1} of ${this.items.length}`;
    const told = this.sound();
    if (this.tones.held) {
      const hz = told ? (told.ison[told.held] ?? Object.values(told.ison)[0]) : 0;
      if (hz) this.tones.hold(hz);
      else this.ison();
    }
    this.fit();
  }

  /** Make the music as large as the page allows: in the cut that fills it best, in one to three columns. */
  fit() {
    const cuts = /** @type {HTMLElement[]} */ ([...(this.items[this.at]?.querySelectorAll(".music") ?? [])]);
    if (!cuts.length) return;
    const shown = cuts.find((c) => !c.hidden) ?? cuts[0];
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
