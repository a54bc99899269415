// @ts-check
/** A hymn that is played, whole or one phrase of it; the syllable that is sung is shown. */

/** @typedef {{id: string, syllable: string, start: number, end: number}} Sung */

/** Something that plays, and lights what it sings. */
class Playing {
  /** @type {Sung[]} */
  notes = [];
  /** @type {string} */
  from = "";

  /**
   * @param {HTMLAudioElement} audio
   * @param {(note: string, syllable: string) => void} light
   * @param {() => number} speed
   */
  constructor(audio, light, speed) {
    this.audio = audio;
    this.light = light;
    audio.addEventListener("play", async () => {
      // Slower with the pitch kept: the tuning is what is learned.
      audio.preservesPitch = true;
      audio.playbackRate = speed();
      const from = audio.src.replace(".opus?", ".json?");
      if (this.from !== from) {
        this.from = from;
        this.notes = [];
        const answer = await fetch(from);
        if (answer.ok) this.notes = (await answer.json()).notes;
      }
      this.follow();
    });
  }

  follow() {
    const { audio } = this;
    const now = audio.currentTime;
    const note = this.notes.find((n) => n.start <= now && now < n.end);
    if (audio.ended) this.light("", "");
    else this.light(note ? note.id : "", note ? note.syllable : "");
    if (!audio.paused && !audio.ended) requestAnimationFrame(() => this.follow());
  }
}

class SungHymn extends HTMLElement {
  /** @type {Element[]} */
  lit = [];
  /** @type {string} */
  shown = "";

  connectedCallback() {
    const audio = this.querySelector("audio");
    const part = /** @type {HTMLSelectElement | null} */ (this.querySelector("#part"));
    const sung = /** @type {HTMLSelectElement | null} */ (this.querySelector("#sung"));
    const speed = /** @type {HTMLSelectElement | null} */ (this.querySelector("#speed"));
    if (!audio || !part || !sung || !speed) return;
    const light = this.light.bind(this);
    const pace = () => Number(speed.value);
    new Playing(audio, light, pace);
    const alone = new Audio();
    new Playing(alone, light, pace);
    const load = () => {
      const was = !audio.paused;
      audio.src = `/sound/${this.dataset.name}.opus?part=${part.value}&sung=${sung.value}`;
      if (was) audio.play();
    };
    part.addEventListener("change", load);
    sung.addEventListener("change", load);
    speed.addEventListener("change", () => {
      audio.playbackRate = alone.playbackRate = pace();
    });
    audio.addEventListener("play", () => alone.pause());
    alone.addEventListener("play", () => audio.pause());
    this.phrases(alone, sung);
  }

  /**
   * One phrase alone: by its button, and by itself when it was just changed.
   * @param {HTMLAudioElement} alone
   * @param {HTMLSelectElement} sung
   */
  phrases(alone, sung) {
    const row = /** @type {HTMLElement | null} */ (this.querySelector("[data-alone]"));
    const after = /** @type {HTMLInputElement | null} */ (this.querySelector("#after"));
    const intonation = /** @type {HTMLInputElement | null} */ (this.querySelector("#intonation"));
    const say = row?.querySelector("[role=status]");
    if (!row || !after || !intonation || !say) return;
    row.hidden = false;
    for (const box of [after, intonation]) {
      box.checked = (localStorage.getItem(box.id) ?? String(box.checked)) === "true";
      box.addEventListener("change", () => localStorage.setItem(box.id, String(box.checked)));
    }
    alone.addEventListener("waiting", () => (say.textContent = "It is being sung\u2026"));
    alone.addEventListener("playing", () => (say.textContent = ""));
    /** @param {string} phrase */
    const play = (phrase) => {
      const first = intonation.checked ? "short" : "none";
      alone.src = `/sound/${this.dataset.name}.opus?phrase=${phrase}&sung=${sung.value}&intonation=${first}`;
      say.textContent = "It is being sung\u2026";
      // A browser may want a touch first; the button is there for it.
      alone.play().catch(() => (say.textContent = ""));
    };
    for (const link of /** @type {NodeListOf<HTMLElement>} */ (this.querySelectorAll("[data-phrase]"))) {
      link.addEventListener("click", (event) => {
        event.preventDefault();
        play(link.dataset.phrase ?? "");
      });
    }
    const changed = location.hash.match(/^#(?:note|edit)-(p\w*?)(?:s\w+)?$/);
    const [came] = performance.getEntriesByType("navigation");
    const anew = came instanceof PerformanceNavigationTiming && came.type === "navigate";
    if (changed && anew && after.checked) play(changed[1]);
  }

  /**
   * @param {string} note
   * @param {string} syllable
   */
  light(note, syllable) {
    if (note === this.shown) return;
    this.shown = note;
    for (const e of this.lit) e.classList.remove("now");
    this.lit = [];
    if (!note) return;
    for (const cut of ["narrow.", "wide."]) {
      for (const id of [note, syllable]) {
        const e = document.getElementById(cut + id);
        if (e) {
          e.classList.add("now");
          this.lit.push(e);
        }
      }
    }
  }
}
customElements.define("sung-hymn", SungHymn);
