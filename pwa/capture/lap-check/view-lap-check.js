// @ts-check
/** The lap check's page: laps as they are driven, what they are worth, and one key to keep them. */
import { convert, formatNumber } from "../../shared/measures.js";
import { h, onPress, onTap, say, watchFit } from "../page/dom.js";
import { recordName, timeOfDay } from "../records/words.js";
import { createStrip } from "../run/view-status.js";
import { BOUND_SOURCE, TRIP_BOUND_SOURCE } from "./lap-verdict.js";

const BOUNCE_MS = 350;

/** @param {import("./types").LapCheckParts} parts */
export function createLapCheckView(parts) {
  const { check, signal } = parts;
  const strip = createStrip(parts.openStatus);
  const lead = h("small");
  const running = h("b", { class: "figure" });
  const speed = h("b", { class: "figure" });
  const speedUnit = h("span", { class: "unit" });
  const hero = h("section", { class: "hero", "aria-label": "Running figures" },
    h("p", { class: "hero-main" }, lead, h("span", {}, running, h("span", { class: "unit" }, "m"))),
    h("p", { class: "hero-side" }, h("small", {}, "GPS speed"), h("span", {}, speed, speedUnit)));
  const status = h("p", { class: "said", role: "status" }, "Recording. Drive one to three laps.");
  const line = h("div", { class: "line only" }, status);

  const table = h("tbody");
  const source = h("small");
  const laps = h("table", { class: "laps" },
    h("caption", {}, parts.surveyed_m === null ? "Surveyed lap length not entered" : `Surveyed: ${metres(parts.surveyed_m)} m`), table);
  const verdict = h("b");
  const adviceWords = h("span");
  const tripWords = h("span");
  const worth = h("section", { class: "worth", "aria-label": "Verdict", "aria-live": "polite" }, verdict, adviceWords, tripWords);
  const sources = h("details", { class: "sources" }, h("summary", {}, "Where these limits come from"), h("p", {}, `${BOUND_SOURCE} ${TRIP_BOUND_SOURCE}`));
  sources.hidden = true;
  const results = h("div", { class: "results", tabindex: "0", role: "region", "aria-label": "Laps" },
    worth, laps, source, sources);

  const startLabel = h("span");
  const start = h("button", { class: "key", "data-key": "line", "data-tone": "zero" },
    startLabel, h("small", {}, "as the car crosses it"));
  onPress(start, (at) => void setLine(at), BOUNCE_MS);
  const trip = h("button", { class: "key", "data-key": "trip" },
    h("span", {}, "Trip meter"), h("small", {}, "first and last lap"));
  onPress(trip, (at) => {
    signal("taken");
    parts.openPad(at);
  });
  const keep = h("button", { class: "key store", "data-key": "keep" },
    h("span", {}, "Keep this lap"), h("small", {}, `with ${parts.course}`));
  onTap(keep, () => {
    if (keep.disabled) return;
    keep.disabled = true;
    void parts.keep().then(() => announce("stored", "Kept with the course; offered next time."), fail);
  });
  const run = h("button", { class: "key store", "data-key": "start-run" },
    h("span", {}, "Start the run"), h("small", {}, "same recording"));
  onTap(run, () => {
    run.disabled = true; // a second touch must not start it twice
    signal("taken");
    void parts.startRun().catch(fail).finally(() => (run.disabled = false));
  });
  const menu = h("button", { class: "menu" }, "Menu");
  onPress(menu, parts.openMenu);

  const element = h("main", { class: "drive lap-check", "aria-label": "Lap check" }, strip.element, hero, line, results,
    h("div", { class: "keys", role: "group", "aria-label": "Lap check" }, start, trip),
    h("div", { class: "bar" }, menu, keep, run), strip.heard);
  watchFit(element);

  /** @param {number} at_mono_ms */
  async function setLine(at_mono_ms) {
    signal("taken");
    try {
      if (await parts.setLine(at_mono_ms)) {
        announce("stored", "Start line set. Drive on; laps count by themselves.");
        signal("stored");
      } else {
        announce("failed", "Not set: touch it while rolling, so that the way the line faces is known.");
        signal("failed");
      }
    } catch (error) {
      fail(error);
    }
    update();
  }

  /** @param {"taken" | "stored" | "failed"} tone @param {string} text */
  function announce(tone, text) {
    line.dataset.tone = tone;
    say(status, text);
  }

  function fail(/** @type {unknown} */ error) {
    announce("failed", `NOT STORED yet: ${error instanceof Error ? error.message : "trying again"}. Keep the page open.`);
    signal("failed");
  }

  let shown = "";
  function update() {
    strip.show(parts.cells());
    const crossed = check.crossed();
    say(lead, !check.hasLine() ? "No start line yet" : crossed ? `Lap ${crossed} · estimate` : "On the way to the line");
    say(running, formatNumber(check.running_m(), 0));
    const speed_mps = parts.fix()?.speed_mps ?? null;
    say(speed, speed_mps === null ? "–" : formatNumber(convert("speed", speed_mps, parts.units()), 0));
    say(speedUnit, parts.units().distance === "mi" ? "mph" : "km/h");
    say(startLabel, check.hasLine() ? "New start line" : "Start line here");
    const figures = check.figures();
    const now = JSON.stringify([figures, check.source(), check.hasLine()]);
    if (now === shown) return;
    shown = now;
    keep.disabled = figures.mean === null;
    table.replaceChildren(...figures.laps.map(({ length_m, half_m, plain, why }, i) =>
      h("tr", {}, h("th", { scope: "row" }, `Lap ${i + 1}`), h("td", {}, `${metres(length_m)} m`),
        h("td", {}, plain ? `± ${metres(half_m)}` : `left out: ${why}`))));
    const { mean } = figures;
    if (mean && mean.laps > 1) {
      table.append(h("tr", { class: "mean" }, h("th", { scope: "row" }, "Mean"), h("td", {}, `${metres(mean.length_m)} m`),
        h("td", {}, `± ${metres(mean.half_m)}`)));
    }
    say(source, check.source());
    const words = check.verdict();
    worth.dataset.tone = words?.tone ?? "none";
    say(verdict, words?.verdict ?? (check.hasLine() ? "Cross the line once more for the first lap." : "Set the start line, then drive one to three laps."));
    say(adviceWords, words?.advice ?? "");
    const trip = check.tripWords();
    say(tripWords, trip);
    sources.hidden = !(words || trip);
  }

  update();
  return {
    element, update, announce, fail, notice: announce,
    /** @param {import("../storage/rows").RecordRow} row */
    confirm(row) {
      announce("stored", `Stored ${timeOfDay(row.doc.t_ms)} · ${recordName(row)}`);
      signal("stored");
      update();
    },
  };
}

/** @param {number} m */
const metres = (m) => formatNumber(m, 1);
