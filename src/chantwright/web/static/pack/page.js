/** Puts a page of the pack to work. */
import { furnish } from "./desk.js";
import { keepHere } from "./keeping.js";
import { need, Player } from "./player.js";
import { remembered } from "./results.js";
import { Singing, Sound } from "./singing.js";

/** @typedef {import("./player.js").HymnData} HymnData */

const READING = "chantwright reading";
const sound = new Sound();

/** @param {HTMLElement} article */
function mount(article) {
  /** @type {HymnData} */
  const data = JSON.parse(need(article, "script.data").textContent ?? "");
  furnish(article, data);
  const player = new Player(article, data);
  const singing = new Singing(article, data, player, sound);
  const radios = /** @type {HTMLInputElement[]} */ ([
    ...article.querySelectorAll(".readings input"),
  ]);
  /** @param {string} reading */
  const read = (reading) => {
    article.dataset.reading = reading;
    for (const radio of radios) radio.checked = radio.value === reading;
  };
  const wanted = remembered(READING);
  read(radios.some((radio) => radio.value === wanted) ? wanted : "staff");
  for (const radio of radios) {
    radio.addEventListener("change", () => read(remembered(READING, radio.value)));
  }
  return { data, player, singing };
}

const mounted = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("article.hymn")]).map(
  mount,
);
Object.assign(window, { chantwright: { mounted, sound } });

/** In the single file all hymns are there, and one is shown. */
function turn() {
  const pages = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("[data-page]")]);
  if (!pages.length) return;
  const wanted = location.hash.slice(1) || "cover";
  const known = pages.some((page) => page.dataset.page === wanted) ? wanted : "cover";
  for (const page of pages) page.hidden = page.dataset.page !== known;
  for (const { player } of mounted) player.audio.pause();
  window.scrollTo(0, 0);
}

window.addEventListener("hashchange", turn);
turn();
if (location.protocol !== "file:") void keepHere();
