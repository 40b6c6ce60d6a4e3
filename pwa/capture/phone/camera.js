// @ts-check
/**
 * A picture of the display in two touches: one opens the viewfinder, one takes it.
 *
 * The viewfinder is in this page (getUserMedia), so that the page stays in sight and the position
 * watch goes on. The phone's own camera app takes better pictures but hides the page, which stops
 * the watch and may end the page: it is the way out where a browser gives no camera.
 */
import { h, onPress, onTap, say } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";

const ASPECT = { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1080 } };
const HIDDEN_BY = "the camera app hid the page";

/** Digits 2 % of the picture high are 32 px: read with ease, at some 300 kB a picture. */
const LONG_EDGE_PX = 1600;
const QUALITY = 0.85;

/** @typedef {import("./types").Picture} Picture */

/** @param {import("./types").CameraParts} parts */
export function openCamera({ devices, signal, gps, keep }) {
  /** @type {MediaStream | null} */
  let stream = null;
  let closed = false;
  const video = h("video", { playsinline: true, muted: true, "aria-label": "Viewfinder" });
  video.muted = true;
  const words = h("p", { class: "kept", role: "status" }, "Opening the camera… This page stays in sight: no position is lost.");
  const shutter = h("button", { class: "key store shutter", disabled: true }, h("span", {}, "Take it"));
  const file = h("input", { type: "file", accept: "image/*", capture: "environment", hidden: true, "aria-label": "Photo from the camera app" });
  const app = h("button", { class: "key wide", hidden: true },
    h("span", {}, "Open the camera app"), h("small", {}, "no position while it hides this page"));
  const sheet = showSheet("Photo of the display", [video, words, shutter, app, file],
    { name: "camera", onClose: stop });

  onPress(shutter, (at_mono_ms) => {
    if (shutter.disabled || !video.videoWidth) return;
    shutter.disabled = true;
    signal("taken");
    keep(toJpeg(video, video.videoWidth, video.videoHeight), at_mono_ms);
    sheet.close();
  });
  onTap(app, () => {
    gps.covered(HIDDEN_BY);
    file.click();
  });
  file.addEventListener("cancel", () => gps.uncovered());
  file.addEventListener("change", () => {
    gps.uncovered();
    const chosen = file.files?.[0];
    if (!chosen) return;
    // the moment is that of the picture, as far as the phone tells; else of coming back
    const age_ms = Math.max(0, Date.now() - chosen.lastModified);
    keep(fromFile(chosen), performance.now() - (age_ms < 60000 ? age_ms : 0));
    sheet.close();
  });

  function stop() {
    closed = true;
    stream?.getTracks().forEach((track) => track.stop());
    video.srcObject = null;
  }

  /** @param {string} why */
  function offerApp(why) {
    say(words, `${why} The phone's own camera app hides this page: the position watch stops until you are back, and the gap is recorded with its cause.`);
    video.hidden = shutter.hidden = true;
    app.hidden = false;
  }

  async function begin() {
    if (!devices) return offerApp("This browser gives pages no camera.");
    try {
      stream = await devices.getUserMedia({ video: ASPECT, audio: false });
      if (closed) return stop();
      video.srcObject = stream;
      await video.play();
      shutter.disabled = false;
      say(words, "This page stays in sight: no position is lost.");
    } catch (error) {
      if (closed) return;
      offerApp(error instanceof DOMException && error.name === "NotAllowedError"
        ? "The camera is not allowed for this page." : "The camera could not be opened.");
    }
  }
  void begin();
}

/** What the browser can't decode (HEIC) is kept as it came. @param {File} file @returns {Promise<Picture>} */
async function fromFile(file) {
  try {
    const image = await createImageBitmap(file);
    return await toJpeg(image, image.width, image.height);
  } catch {
    return { bytes: await file.arrayBuffer(), media_type: file.type || "image/jpeg" };
  }
}

/**
 * What the source shows at this moment; the encoding goes on beside everything else.
 * @param {CanvasImageSource} source @param {number} width @param {number} height
 * @returns {Promise<Picture>}
 */
function toJpeg(source, width, height) {
  const scale = Math.min(1, LONG_EDGE_PX / Math.max(width, height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  canvas.getContext("2d")?.drawImage(source, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve, reject) => {
    canvas.toBlob((blob) => {
      if (blob) resolve(blob.arrayBuffer().then((bytes) => ({ bytes, media_type: blob.type })));
      else reject(new Error("The photo could not be encoded."));
    }, "image/jpeg", QUALITY);
  });
}
