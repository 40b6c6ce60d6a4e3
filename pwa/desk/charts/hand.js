// @ts-check
/** Mouse, touch and keys on a strip, as what they mean: seek, show, zoom, leap, let go. */

/**
 * @typedef {object} Grip what the strip lets be done
 * @property {() => [number, number]} view axis units
 * @property {() => [number, number]} whole
 * @property {() => number | null} marked where the cursor is
 * @property {() => { left: number, width: number }} plot pixels from the face's left edge
 * @property {(x: number, hold: boolean) => void} seek
 * @property {(range: [number, number] | null) => void} show
 * @property {(factor: number, about?: number) => void} zoom below 1 shows less
 * @property {(from: number, to: number) => void} sweep pixels being marked; equal ends: nothing
 * @property {(pixel: number, down: number) => boolean} press a click; true when something took it
 * @property {(step: "previous" | "next") => void} leap
 * @property {() => void} open what is at the cursor
 * @property {() => void} release
 */

/**
 * @param {HTMLElement} face
 * @param {Grip} grip
 */
export function takeInHand(face, grip) {
  const toX = (/** @type {number} */ pixel) => {
    const { left, width } = grip.plot();
    const [from, to] = grip.view();
    return from + ((pixel - left) / width) * (to - from);
  };
  /** @param {number} pixels to the right moves the run to the right */
  const pan = (pixels) => {
    const [from, to] = grip.view();
    const by = (-pixels / grip.plot().width) * (to - from);
    grip.show([from + by, to + by]);
  };
  const pixelOf = (/** @type {MouseEvent} */ event) => event.clientX - face.getBoundingClientRect().left;

  /** @type {Map<number, { x: number, y: number }>} pointers that are down, where they went down last */
  const down = new Map();
  /** @type {{ x: number, y: number } | null} */
  let start = null;
  let moved = false;

  face.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    face.setPointerCapture(event.pointerId);
    down.set(event.pointerId, { x: pixelOf(event), y: event.offsetY });
    if (down.size === 1) {
      start = { x: pixelOf(event), y: event.clientY - face.getBoundingClientRect().top };
      moved = false;
    }
  });
  face.addEventListener("pointermove", (event) => {
    const pixel = pixelOf(event);
    const was = down.get(event.pointerId);
    if (!was) {
      const { left, width } = grip.plot();
      if (pixel >= left - 4 && pixel <= left + width + 4) grip.seek(within(toX(pixel), grip.view()), false);
      return;
    }
    if (start && Math.abs(pixel - start.x) > 4) moved = true;
    const other = [...down].find(([id]) => id !== event.pointerId)?.[1];
    if (other) {
      moved = true;
      const [before, after] = [Math.max(12, Math.abs(was.x - other.x)), Math.max(12, Math.abs(pixel - other.x))];
      grip.zoom(before / after, toX((pixel + other.x) / 2));
    } else if (event.pointerType === "touch" || event.shiftKey) {
      if (moved) pan(pixel - was.x);
    } else if (start && moved) {
      grip.sweep(start.x, pixel);
    }
    down.set(event.pointerId, { x: pixel, y: was.y });
  });
  face.addEventListener("pointerup", (event) => {
    const pixel = pixelOf(event);
    const last = down.size === 1;
    if (!down.delete(event.pointerId) || !last || !start) return;
    grip.sweep(0, 0);
    if (!moved) {
      if (!grip.press(pixel, start.y)) grip.seek(within(toX(pixel), grip.view()), true);
    } else if (event.pointerType !== "touch" && !event.shiftKey && Math.abs(pixel - start.x) > 8) {
      const ends = [toX(start.x), toX(pixel)].sort((a, b) => a - b);
      grip.show([ends[0] ?? 0, ends[1] ?? 1]);
    }
    start = null;
  });
  face.addEventListener("pointercancel", (event) => {
    down.delete(event.pointerId);
    grip.sweep(0, 0);
  });
  face.addEventListener("dblclick", () => grip.show(null));
  face.addEventListener("wheel", (event) => {
    // a plain wheel scrolls the page; a pinch on a trackpad comes with ctrlKey
    if (event.ctrlKey || event.metaKey) grip.zoom(Math.exp(event.deltaY / 300), toX(pixelOf(event)));
    else if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) pan(-event.deltaX);
    else return;
    event.preventDefault();
  }, { passive: false });

  face.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const view = grip.view();
    const [low, high] = grip.whole();
    const at = grip.marked() ?? view[0];
    const step = ((view[1] - view[0]) / grip.plot().width) * (event.shiftKey ? 40 : 4);
    /** @type {Record<string, () => void>} */
    const keys = {
      ArrowRight: () => grip.seek(Math.min(high, at + step), true),
      ArrowLeft: () => grip.seek(Math.max(low, at - step), true),
      Home: () => grip.seek(view[0], true),
      End: () => grip.seek(view[1], true),
      PageDown: () => grip.leap("next"),
      PageUp: () => grip.leap("previous"),
      Enter: grip.open,
      "+": () => grip.zoom(0.5),
      "-": () => grip.zoom(2),
      0: () => grip.show(null),
      ",": () => pan(grip.plot().width / 4),
      ".": () => pan(-grip.plot().width / 4),
      Escape: grip.release,
    };
    const action = keys[event.key];
    if (!action) return;
    event.preventDefault();
    action();
    const now = grip.marked();
    if (event.key.length > 1 && now !== null && (now < view[0] || now > view[1])) {
      const half = (view[1] - view[0]) / 2;
      grip.show([now - half, now + half]);
    }
  });
}

/** @param {number} x @param {[number, number]} ends */
function within(x, [low, high]) {
  return Math.min(high, Math.max(low, x));
}
