/**
 * Keeps the screen on while something sounds or listens, and no longer. A browser takes the lock
 * away when the page is hidden; it is asked for again when the page is seen and still needs it.
 *
 * Reference: Screen Wake Lock API (W3C).
 */

/** @type {Set<object>} who needs the screen */
const needed = new Set();
/** @type {WakeLockSentinel | null} */
let lock = null;
let asking = false;

async function settle() {
  const wanted = needed.size > 0 && document.visibilityState === "visible";
  if (!wanted) {
    const held = lock;
    lock = null;
    await held?.release().catch(() => undefined);
    return;
  }
  if (lock || asking || !("wakeLock" in navigator)) return;
  asking = true;
  try {
    const given = await navigator.wakeLock.request("screen");
    lock = given;
    given.addEventListener("release", () => {
      if (lock === given) lock = null;
    });
  } catch {
    // A browser may refuse, when the battery is low for one; the screen then goes dark as always.
  }
  asking = false;
  // What was wanted may have changed meanwhile.
  if (lock && !needed.size) await settle();
}

document.addEventListener("visibilitychange", () => void settle());

/**
 * @param {object} who
 * @param {boolean} wanted
 */
export function keepAwake(who, wanted) {
  if (wanted) needed.add(who);
  else needed.delete(who);
  void settle();
}

/** Whether the screen is being kept on. */
export function awake() {
  return lock !== null && !lock.released;
}
