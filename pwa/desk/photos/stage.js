// @ts-check
/**
 * A photo to read from: zoom and place by mouse, touch and keys, kept from photo to photo, since a
 * display is mostly in the same corner of all of them.
 */
import { el } from "../page/dom.js";

const STEPS = [1, 2, 4, 7];

/**
 * @returns {{ element: HTMLElement, show: (url: string, words: string) => void, ahead: (url: string) => void,
 *   zoom: () => void, pan: (right: number, down: number) => void, whole: () => void }}
 */
export function createStage() {
  let scale = 1;
  /** the part of the photo in the middle, 0 to 1 */
  let centre = { x: 0.5, y: 0.5 };
  const image = el("img", { alt: "", draggable: "false" });
  const trouble = el("p", { class: "stage-trouble", hidden: true });
  const level = el("output", { class: "stage-level", "aria-label": "Magnification" }, "1\u00d7");
  const frame = el("div", {
    class: "stage-frame", tabindex: 0, role: "application", "aria-label": "Photo: plus zooms in, minus zooms out, arrows move, 0 shows all of it",
  }, image, trouble);
  const element = el("div", { class: "stage" }, frame, el("div", { class: "stage-bar" },
    el("button", { type: "button", class: "quiet", "aria-label": "Magnify", onclick: () => set(scale * 1.6) }, "+"),
    el("button", { type: "button", class: "quiet", "aria-label": "Lessen", onclick: () => set(scale / 1.6) }, "\u2212"),
    el("button", { type: "button", class: "quiet", onclick: whole }, "Whole photo"), level));

  image.addEventListener("load", () => {
    trouble.hidden = true;
    image.hidden = false;
    apply();
  });
  image.addEventListener("error", () => {
    image.hidden = true;
    trouble.hidden = false;
    trouble.replaceChildren("This browser can\u2019t show the photo (it may be HEIC, or not be here). ",
      el("a", { href: image.src, download: true }, "Save it and open it with another program"), ".");
  });

  function apply() {
    const { clientWidth: width, clientHeight: height } = frame;
    const { naturalWidth, naturalHeight } = image;
    if (!naturalWidth || !width) return;
    const fit = Math.min(width / naturalWidth, height / naturalHeight);
    const [w, h] = [naturalWidth * fit, naturalHeight * fit];
    // half of what is seen, as a share of the photo: the centre stays where the photo fills the frame
    const half = { x: Math.min(0.5, width / (2 * w * scale)), y: Math.min(0.5, height / (2 * h * scale)) };
    centre = { x: Math.min(1 - half.x, Math.max(half.x, centre.x)), y: Math.min(1 - half.y, Math.max(half.y, centre.y)) };
    image.style.width = `${w}px`;
    image.style.height = `${h}px`;
    image.style.transform = `translate(${width / 2 - centre.x * w * scale}px, ${height / 2 - centre.y * h * scale}px) scale(${scale})`;
    level.textContent = `${scale < 9.5 ? Math.round(scale * 10) / 10 : Math.round(scale)}\u00d7`;
  }

  /**
   * @param {number} next
   * @param {{ x: number, y: number }} [at] in the frame, kept in place
   */
  function set(next, at) {
    const to = Math.min(16, Math.max(1, next));
    const shown = image.getBoundingClientRect();
    if (at && shown.width) {
      const box = frame.getBoundingClientRect();
      const off = { x: at.x - box.width / 2, y: at.y - box.height / 2 };
      const grown = 1 - scale / to;
      centre = { x: centre.x + (off.x / shown.width) * grown, y: centre.y + (off.y / shown.height) * grown };
    }
    scale = to;
    apply();
  }

  function whole() {
    centre = { x: 0.5, y: 0.5 };
    set(1);
  }

  /** @param {number} right @param {number} down as shares of the frame */
  function pan(right, down) {
    const shown = image.getBoundingClientRect();
    centre = { x: centre.x + (right * frame.clientWidth) / (shown.width || 1), y: centre.y + (down * frame.clientHeight) / (shown.height || 1) };
    apply();
  }

  frame.addEventListener("wheel", (event) => {
    event.preventDefault();
    const box = frame.getBoundingClientRect();
    set(scale * Math.exp(-event.deltaY / 400), { x: event.clientX - box.left, y: event.clientY - box.top });
  }, { passive: false });
  /** @type {Map<number, { x: number, y: number }>} */
  const held = new Map();
  frame.addEventListener("pointerdown", (event) => {
    frame.setPointerCapture(event.pointerId);
    held.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  frame.addEventListener("pointermove", (event) => {
    const was = held.get(event.pointerId);
    if (!was) return;
    const now = { x: event.clientX, y: event.clientY };
    const other = [...held].find(([id]) => id !== event.pointerId)?.[1];
    held.set(event.pointerId, now);
    if (other) {
      const box = frame.getBoundingClientRect();
      const [before, after] = [was, now].map((at) => Math.max(10, Math.hypot(at.x - other.x, at.y - other.y)));
      set((scale * (after ?? 1)) / (before ?? 1), { x: (now.x + other.x) / 2 - box.left, y: (now.y + other.y) / 2 - box.top });
    } else {
      pan((was.x - now.x) / frame.clientWidth, (was.y - now.y) / frame.clientHeight);
    }
  });
  for (const end of ["pointerup", "pointercancel"]) {
    frame.addEventListener(end, (event) => void held.delete(/** @type {PointerEvent} */ (event).pointerId));
  }
  frame.addEventListener("keydown", (event) => {
    /** @type {Record<string, () => void>} */
    const keys = {
      "+": () => set(scale * 1.6), "-": () => set(scale / 1.6), 0: whole,
      ArrowLeft: () => pan(-0.1, 0), ArrowRight: () => pan(0.1, 0), ArrowUp: () => pan(0, -0.1), ArrowDown: () => pan(0, 0.1),
    };
    const action = event.ctrlKey || event.altKey || event.metaKey || event.shiftKey && event.key.startsWith("Arrow") ? undefined : keys[event.key];
    if (!action) return;
    event.preventDefault();
    event.stopPropagation();
    action();
  });
  new ResizeObserver(apply).observe(frame);

  return {
    element, pan, whole,
    show(url, words) {
      image.src = url;
      image.alt = words;
    },
    ahead(url) {
      new Image().src = url;
    },
    /** one key for people whose fingers stay in the fields: each press goes a step closer, then back */
    zoom: () => set(STEPS.find((step) => step > scale + 0.01) ?? 1),
  };
}
