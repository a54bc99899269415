/**
 * What is sung, as a chanter would pencil it. In the score a short stroke stands by the words for
 * each note: on the dotted line where it was true, above where it was high, below where it was low,
 * by as many moria. Beside it a ladder drawn to true size, with the pen where the voice stands.
 *
 * Conventions: moria; lengths in the score are in sizes of its words, on the ladder in pixels.
 */
import { median, printed } from "./line.js";
import { need } from "./player.js";

/** @typedef {import("./player.js").HymnData} HymnData */

/**
 * Where the stroke of a note goes.
 * @typedef {object} Spot
 * @property {SVGSVGElement} line of the score
 * @property {number} x
 * @property {number} y of the dotted line
 * @property {number} wide
 * @property {number} size of the words
 */

const BELOW = 0.95;
const ROOM = 1.5;
const MORION = 0.11;
const FURTHEST = 5;
const LEFT = 50;
const RIGHT = 96;
const MIDDLE = 73;
const EDGE = 14;
const LINE = 15;

/** @param {number} off moria; nothing is said of less than half of one */
function amount(off) {
  const size = Math.round(Math.abs(off));
  return size ? `${size} ${off > 0 ? "high" : "low"}` : "";
}

/** Strokes in the score, and the ladder. */
export class Marks {
  /**
   * @param {HTMLElement} article
   * @param {HymnData} data
   * @param {(text: string) => void} say
   */
  constructor(article, data, say) {
    this.article = article;
    this.data = data;
    this.say = say;
    this.ladder = /** @type {SVGSVGElement} */ (need(article, ".rungs"));
    /** @type {Map<number, number>} place of a note to moria off; NaN where it was left out */
    this.offs = new Map();
    /** @type {Map<number, Element>} */
    this.strokes = new Map();
    /** @type {Spot[]} */
    this.spots = [];
    /** @type {SVGSVGElement | undefined} of the score, in which the singer is */
    this.line = undefined;
    this.phrase = "";
    this.place = -1;
    /** @type {number[]} of the note that is being sung */
    this.own = [];
    this.share = 0;
    this.count = 0;
    /** @type {Element | null} */
    this.voice = null;
    this.tall = 0;
    this.top = 0;
    this.scale = 1;
    const again = () => this.offs.size && this.draw();
    window.addEventListener("resize", again);
    need(article, ".readings").addEventListener("change", again);
  }

  open() {
    this.offs.clear();
    this.own = [];
    this.line = undefined;
    this.phrase = "";
    this.place = -1;
    this.article.classList.add("singing");
    this.draw();
    this.climb(0);
  }

  close() {
    this.pencil();
    this.article.classList.remove("singing");
  }

  /**
   * The strokes as the verdict has them.
   * @param {{off: number, state: string}[]} notes
   */
  told(notes) {
    notes.forEach((n, i) => this.offs.set(i, n.state === "left out" ? NaN : n.off));
    this.draw();
  }

  /** Make room under the words that are seen, and draw everything anew. */
  draw() {
    const { data, article } = this;
    for (const old of article.querySelectorAll(".pen, .true")) old.remove();
    this.strokes.clear();
    /** @param {string} id */
    const seen = (id) => data.prefixes.map((p) => document.getElementById(p + id))
      .find((e) => e?.getClientRects().length);
    const found = data.notes.flatMap((n) => {
      const note = seen(n.id);
      const words = seen(n.syllable);
      const line = /** @type {SVGGraphicsElement | undefined} */ (note)?.ownerSVGElement;
      if (!note || !words || !line) return [];
      const size = Number(words.getAttribute("font-size"));
      return [{ note, line, size, base: Number(words.getAttribute("y")) }];
    });
    // First all room, then all measuring: a browser lays the page out anew after each change.
    for (const { line, size, base } of found) {
      if (line.classList.contains("roomy")) continue;
      line.classList.add("roomy");
      const { width, height } = line.viewBox.baseVal;
      line.setAttribute("viewBox", `0 0 ${width} ${height + ROOM * size}`);
      for (const e of line.querySelectorAll(".letters")) {
        if (Number(e.firstElementChild?.getAttribute("y")) > base) {
          e.setAttribute("transform", `translate(0 ${ROOM * size})`);
        }
      }
    }
    this.spots = found.map(({ note, line, size, base }) => {
      const to = /** @type {DOMMatrix} */ (line.getScreenCTM());
      const x = (note.getBoundingClientRect().left - to.e) / to.a;
      return { line, x, y: base + BELOW * size, wide: 1.6 * size, size };
    });
    this.spots.forEach((spot, i) => {
      const { line, x } = spot;
      const end = line.viewBox.baseVal.width;
      const after = this.spots[i + 1];
      let room = end - x;
      if (after?.line === line) {
        // Some neumes stand above others: their strokes stand side by side.
        after.x = Math.max(after.x, x + 0.4 * spot.size);
        room = 0.85 * (after.x - x);
      }
      spot.wide = Math.min(spot.wide, room);
      if (this.spots[i - 1]?.line === line) return;
      const level = this.path(spot, "true", `M0 ${spot.y}H${end}`, 0.05);
      level.setAttribute("stroke-dasharray", `${0.05 * spot.size} ${0.25 * spot.size}`);
    });
    for (const [place, off] of this.offs) this.stroke(place, off, 1);
  }

  /**
   * @param {Spot} spot
   * @param {string} name class
   * @param {string} d
   * @param {number} thick
   */
  path(spot, name, d, thick) {
    const path = document.createElementNS(spot.line.namespaceURI, "path");
    for (const [key, value] of [["class", name], ["d", d], ["stroke-width", thick * spot.size]]) {
      path.setAttribute(`${key}`, `${value}`);
    }
    spot.line.append(path);
    return path;
  }

  /**
   * @param {number} place
   * @param {number} off moria
   * @param {number} share of its length
   */
  stroke(place, off, share) {
    const spot = this.spots[place];
    if (!spot) return;
    const { x, y, wide, size } = spot;
    const up = y - MORION * size * Math.max(-FURTHEST, Math.min(FURTHEST, off));
    const arm = 0.2 * size;
    const d = Number.isNaN(off)
      ? `M${x} ${y - arm}l${2 * arm} ${2 * arm}m0 ${-2 * arm}l${-2 * arm} ${2 * arm}`
      : `M${x} ${up}h${Math.max(0.15 * size, wide * share)}`;
    const known = this.strokes.get(place);
    if (known) known.setAttribute("d", d);
    else this.strokes.set(place, this.path(spot, "pen", d, 0.13));
  }

  /** The stroke of the note that is being sung. */
  pencil() {
    if (!this.own.length) return;
    // The beginning of a note is a way to it.
    const off = median(this.own.slice(this.own.length / 3));
    this.offs.set(this.place, off);
    this.stroke(this.place, off, this.share);
  }

  /**
   * Step to another note: its rung, its phrase, its line of the score.
   * @param {number} place
   */
  climb(place) {
    const { notes } = this.data;
    const note = notes[place];
    const { phrase } = note;
    if (phrase !== this.phrase) {
      if (this.phrase) this.say(this.sum(this.phrase));
      this.phrase = phrase;
      this.build();
    }
    const line = this.spots[place]?.line;
    if (line !== this.line) line?.scrollIntoView({ block: "nearest" });
    this.line = line;
    const here = this.y(note.moria);
    need(this.ladder, ".asked").setAttribute("d", `M${LEFT} ${here}H${RIGHT}`);
    for (const name of this.ladder.querySelectorAll(".name")) {
      const away = Math.abs(Number(name.getAttribute("y")) - 5 - here);
      name.classList.toggle("here", away < 1);
      name.classList.toggle("near", away >= 1 && away < LINE);
    }
  }

  /** @param {number} moria */
  y(moria) {
    return EDGE + (this.top - moria) * this.scale;
  }

  /** The part of the ladder on which a phrase moves; every phrase at the same size. */
  build() {
    const { notes } = this.data;
    this.tall = this.ladder.clientHeight;
    const tall = this.tall - 2 * EDGE;
    /** @param {string} phrase */
    const compass = (phrase) => {
      const all = notes.filter((n) => n.phrase === phrase).map((n) => n.moria);
      return [Math.min(...all) - FURTHEST, Math.max(...all) + FURTHEST];
    };
    const wide = Math.max(...this.data.phrases.map(([id]) => {
      const [low, high] = compass(id);
      return high - low;
    }));
    this.scale = tall / wide;
    const [low, high] = compass(this.phrase);
    this.top = (low + high + wide) / 2;
    const rungs = [...new Map(notes.map((n) => [n.moria, n.name]))]
      .filter(([moria]) => moria >= this.top - wide && moria <= this.top)
      .sort((a, b) => a[0] - b[0]);
    let drawn = `<path d="M${LEFT} 0V${this.tall}M${RIGHT} 0V${this.tall}`;
    let names = "";
    rungs.forEach(([moria, name], i) => {
      const y = this.y(moria);
      drawn += `M${LEFT} ${y}H${RIGHT}`;
      names += `<text class="name" x="${LEFT - 8}" y="${y + 5}">${printed(name)}</text>`;
      const step = moria - rungs[i - 1]?.[0];
      if (step * this.scale > 20) {
        const size = Number(step.toFixed(1));
        names += `<text x="${MIDDLE}" y="${this.y(moria - step / 2) + 5}">${size}</text>`;
      }
    });
    this.ladder.innerHTML = `${drawn}"/>${names}<path class="asked"/><path class="voice"/><text class="by" x="${RIGHT + 12}"/>`;
    this.voice = this.ladder.querySelector(".voice");
  }

  /**
   * A phrase on the whole; single notes are for the verdict, which knows more.
   * @param {string} phrase
   */
  sum(phrase) {
    const { notes, phrases } = this.data;
    const off = median([...this.offs].flatMap(([i, o]) => (notes[i].phrase === phrase ? [o] : [])));
    const number = phrases.findIndex(([id]) => id === phrase) + 1;
    const how = amount(off);
    return `Phrase ${number}: ${how ? "on the whole " + how : "in place"}.`;
  }

  /**
   * The voice at this moment.
   * @param {number} moria
   * @param {number} place of the note that is sung
   * @param {number} share of it that is over
   */
  point(moria, place, share) {
    if (place !== this.place) {
      this.pencil();
      this.place = place;
      this.own = [];
      this.climb(place);
    }
    const asked = this.data.notes[place].moria;
    this.share = share;
    this.own.push(moria - asked);
    const off = median(this.own.slice(-LINE));
    const y = Math.max(4, Math.min(this.tall - 4, this.y(asked + off)));
    this.voice?.setAttribute("d", `M${LEFT + 8} ${y + 4}L${RIGHT - 8} ${y - 4}`);
    this.count += 1;
    // The ladder is drawn at once; a score is much to paint, and waits for a tenth of a second.
    if (this.count % 10) return;
    this.pencil();
    const by = need(this.ladder, ".by");
    by.setAttribute("y", `${y + 5}`);
    by.textContent = amount(off);
  }
}
