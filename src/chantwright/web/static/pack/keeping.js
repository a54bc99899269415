/** Keeps the pack on the device for flight mode, and says when there is a newer one. */
import { playableKind } from "./player.js";

/** @param {string} text */
function say(text) {
  const place = /** @type {HTMLElement | null} */ (document.querySelector(".keeping"));
  if (!place) return;
  place.hidden = false;
  place.textContent = text;
}

/** @param {ServiceWorkerRegistration} registration */
function offer(registration) {
  if (!registration.waiting || !navigator.serviceWorker.controller) return;
  if (document.querySelector(".update")) return;
  const offered = document.createElement("p");
  offered.className = "update";
  offered.role = "status";
  offered.innerHTML = 'There is a newer pack. <button class="take">Show it</button>';
  offered.querySelector("button")?.addEventListener("click", () => {
    navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), {
      once: true,
    });
    registration.waiting?.postMessage("take over");
  }, { once: true });
  document.querySelector("main")?.prepend(offered);
}

export async function keepHere() {
  if (!("serviceWorker" in navigator)) return;
  navigator.serviceWorker.addEventListener("message", (event) => {
    const { done, failed, all: whole } = event.data;
    if (done + failed < whole) say(`Keeping the recordings for flight mode: ${done} of ${whole}.`);
    else if (failed) say(`${failed} recordings could not be kept; open this page again later.`);
    else say("All of it is kept on this device and works without a network.");
  });
  try {
    const registration = await navigator.serviceWorker.register("sw.js");
    registration.addEventListener("updatefound", () => {
      registration.installing?.addEventListener("statechange", () => offer(registration));
    });
    offer(registration);
    const ready = await navigator.serviceWorker.ready;
    ready.active?.postMessage({ keep: playableKind() });
    void registration.update().catch(() => undefined);
  } catch {
    say("This browser does not keep the pack; it works while there is a network.");
  }
}
