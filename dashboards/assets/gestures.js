// Moves and zooms a chart by finger, mouse and wheel. The script of the chart,
// which is loaded after this one, says what moving means.
"use strict";

/**
 * Takes the pointers and the wheel over one plot. Both ways of moving are given
 * shares of its width.
 * @param {Plot} u
 * @param {(share: number) => void} pan
 * @param {(share: number, by: number) => void} zoom
 */
function takeGestures(u, pan, zoom) {
  /** @type {Map<number, number>} */
  const held = new Map();
  let gap = 0;
  /** @param {number} x */
  const shareAt = (x) => (x - u.over.getBoundingClientRect().left) / u.over.clientWidth;
  const spread = () => {
    const [a, b] = [...held.values()];
    return Math.max(Math.abs(a - b), 20);
  };
  u.over.addEventListener("wheel", (e) => {
    e.preventDefault();
    if (Math.abs(e.deltaX) > Math.abs(e.deltaY)) pan(e.deltaX / u.over.clientWidth);
    else zoom(shareAt(e.clientX), e.deltaY > 0 ? 1.25 : 0.8);
  }, { passive: false });
  u.over.addEventListener("pointerdown", (e) => {
    if (e.pointerType === "mouse" && e.button !== 0) return;
    u.over.setPointerCapture(e.pointerId);
    held.set(e.pointerId, e.clientX);
    if (held.size === 2) gap = spread();
    u.root.classList.add("moving");
  });
  u.over.addEventListener("pointermove", (e) => {
    const before = held.get(e.pointerId);
    if (before === undefined) return;
    held.set(e.pointerId, e.clientX);
    if (held.size === 1) {
      pan((before - e.clientX) / u.over.clientWidth);
    } else if (held.size === 2) {
      const now = spread();
      const [a, b] = [...held.values()];
      zoom(shareAt((a + b) / 2), gap / now);
      gap = now;
    }
  });
  /** @param {PointerEvent} e */
  const release = (e) => {
    held.delete(e.pointerId);
    if (held.size === 0) u.root.classList.remove("moving");
  };
  u.over.addEventListener("pointerup", release);
  u.over.addEventListener("pointercancel", release);
}
