// @ts-check
/** A hymn that is played: choose what is heard and how fast, and see which syllable is sung. */

class SungHymn extends HTMLElement {
  /** @type {Array<{id: string, syllable: string, start: number, end: number}>} */
  notes = [];
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
    /** @param {string} kind */
    const address = (kind) => `/sound/${this.dataset.name}.${kind}?part=${part.value}&sung=${sung.value}`;
    const load = () => {
      const was = !audio.paused;
      audio.src = address("opus");
      this.notes = [];
      if (was) audio.play();
    };
    part.addEventListener("change", load);
    sung.addEventListener("change", load);
    speed.addEventListener("change", () => {
      // Slower with the pitch kept: the tuning is what is learned.
      audio.preservesPitch = true;
      audio.playbackRate = Number(speed.value);
    });
    audio.addEventListener("play", async () => {
      audio.preservesPitch = true;
      audio.playbackRate = Number(speed.value);
      if (!this.notes.length) {
        const answer = await fetch(address("json"));
        if (answer.ok) this.notes = (await answer.json()).notes;
      }
      this.follow(audio);
    });
  }

  /** @param {HTMLAudioElement} audio */
  follow(audio) {
    const step = () => {
      const now = audio.currentTime;
      const note = this.notes.find((n) => n.start <= now && now < n.end);
      this.light(note ? note.id : "", note ? note.syllable : "");
      if (!audio.paused && !audio.ended) requestAnimationFrame(step);
      else if (audio.ended) this.light("", "");
    };
    requestAnimationFrame(step);
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
