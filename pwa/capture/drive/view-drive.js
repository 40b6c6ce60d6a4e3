// @ts-check
/** The drive page: what comes next in reach of a thumb, and always what was stored. */
import { convert, formatNumber, unitOf } from "../../shared/measures.js";
import { EVENTS, PHASES, eventName } from "../../shared/vocabulary.js";
import { withNews } from "../../shared/warnings.js";
import { h, onPress, onTap, say, watchFit } from "../page/dom.js";
import { PHOTO, glyph } from "../page/glyphs.js";
import { showSheet } from "../page/sheet.js";
import { isFloored, isHeldBack, isLog, isWithdrawal, latestEvent, phaseOf, phasesOf, runStart, saidIn, sameZero, shownSoc, zeroOf } from "../records/evidence.js";
import { recordName, shortName, shortSpan, span, timeOfDay } from "../records/words.js";
import { SCREEN_MAY_DIM } from "../run/phone-state.js";
import { createStrip } from "../run/view-status.js";
import { noteWords, startReadingAdvice } from "./reading-advice.js";
import { chargeOf } from "./recharge.js";
import { bandWords, startBandWatch } from "./speed-band.js";
import { KEYS, keyOf, keysOf } from "./taps.js";
import { createAdvice } from "./view-advice.js";
import { askChoice, askValue, askZeroAgain } from "./view-detail.js";
import { createRechargeView } from "./view-recharge.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("../phone/types").Stamp} Stamp */
/** @typedef {import("../records/types").Detail} Detail */
/** @typedef {import("../records/evidence.js").Phase} Phase */
const BOUNCE_MS = 350;
/** What a drive reaches once can't come twice within a second: a hand that touches so means one. */
const ONCE_BOUNCE_MS = 1000;
const REORDER_MS = 700;
const FLASH_MS = 900;
const SETTLE_MS = 400;
const FRESH_SPEED_MS = 5000;
/** How long the confirmation of a tap, and its undo, stand before news that no touch asked for. */
const CONFIRMED_MS = 8000;

/**
 * What the next touch of a button records: the kinds of a switch take turns.
 * @param {string} name @param {RecordRow[]} rows
 * @returns {string} a kind of event
 */
function nextOf(name, rows) {
  const kinds = KEYS.get(name) ?? [name];
  const at = kinds.indexOf(latestEvent(rows, ...kinds)?.doc.kind ?? "");
  return kinds[(at + 1) % kinds.length] ?? name;
}

/** @param {import("./types").DriveParts} parts */
export function createDriveView(parts) {
  const { recorder, clock, prefs, units, signal } = parts;

  // --- what the page is made of ---------------------------------------------------------
  const strip = createStrip(parts.openStatus);

  const distance = h("b", { class: "figure" });
  const distanceUnit = h("span", { class: "unit" });
  const distanceLabel = h("small");
  const speed = h("b", { class: "figure" });
  const speedUnit = h("span", { class: "unit" });
  const hero = h("section", { class: "hero", "aria-label": "Running figures" },
    h("p", { class: "hero-main" }, distanceLabel, h("span", {}, distance, distanceUnit)),
    h("p", { class: "hero-side" }, h("small", {}, "GPS speed"), h("span", {}, speed, speedUnit)));

  const marks = Object.entries(PHASES).map(([phase, name]) =>
    h("li", { "data-phase": phase }, name));
  const scale = h("ol", { class: "tide", "aria-label": "Phase of the run" }, ...marks);

  const status = h("p", { class: "said", role: "status" }, "Recording. Tap what happens.");
  const undo = h("button", { class: "undo", disabled: true }, "Undo");
  onPress(undo, () => void takeBack(), BOUNCE_MS);
  /** @type {RecordRow | null} what the line names */
  let named = null;
  const line = h("div", { class: "line" }, status, undo);

  const [readWhat, readAge] = [h("span"), h("span")];
  const read = h("button", { class: "read key", "data-key": "read" },
    h("span", {}, "Enter a reading"), h("small", {}, readWhat, readAge));
  onPress(read, (at) => {
    signal("taken");
    parts.openPad(clock.stamp(at));
  });

  const photo = h("button", { class: "photo key", "data-key": "photo", "aria-label": "Photo of the display" },
    glyph(PHOTO), h("span", {}, "Photo"));
  onPress(photo, () => {
    signal("taken");
    parts.openCamera();
  }, BOUNCE_MS);
  const reading = h("div", { class: "reading" }, read, photo);

  /** @type {Map<string, { button: HTMLButtonElement, label: HTMLElement, hint: HTMLElement }>} */
  const keys = new Map();
  for (const name of KEYS.keys()) keys.set(name, makeKey(name));
  const grid = h("div", { class: "keys", role: "group", "aria-label": "What happens" });

  const voice = h("button", { "data-key": "voice" });
  onPress(voice, () => {
    signal("taken");
    parts.touchVoice();
  }, BOUNCE_MS);
  const bar = h("nav", { class: "bar", "aria-label": "More" },
    barButton("More", openMore), voice, barButton("Log", parts.openLog), barButton("Menu", parts.openMenu));

  const band = startBandWatch();
  const worth = startReadingAdvice();
  const advice = createAdvice({
    quiet: (kind) => (kind === "band" ? band.hush() : worth.decline()),
  });

  const recharge = createRechargeView();
  const element = h("main", { class: "drive", "aria-label": "Drive" }, strip.element, hero, scale, ...recharge.parts, line, reading, grid, bar,
    advice.element, advice.heard, strip.heard);
  watchFit(element);

  let touched_ms = performance.now();
  element.addEventListener("pointerdown", (event) => {
    touched_ms = event.timeStamp;
  }, { capture: true });

  /** @param {string} label @param {() => void} act */
  function barButton(label, act) {
    const button = h("button", {}, label);
    onPress(button, act);
    return button;
  }

  /** @param {string} name */
  function makeKey(name) {
    const key = keyOf(name);
    const label = h("span", {}, key.label);
    const hint = h("small", {}, key.hint);
    const button = h("button",
      { class: "key", "data-key": name, "data-tone": key.tone },
      glyph(key.glyph), label, hint);
    onPress(button, (at) => (hasJustMoved(name, at) ? refuse(name) : press(name, at)), key.once ? ONCE_BOUNCE_MS : BOUNCE_MS);
    return { button, label, hint };
  }

  // --- taking a tap -----------------------------------------------------------------------
  let settled_ms = -Infinity;
  /** @type {Set<string>} keys that the last change of phase put somewhere else */
  const moved = new Set();

  /** @param {string} key @param {number} at_mono_ms */
  const hasJustMoved = (key, at_mono_ms) => moved.has(key) && at_mono_ms < settled_ms + SETTLE_MS;

  /** Which key the finger was meant for can't be told. @param {string} key */
  function refuse(key) {
    flash(key, "failed");
    announce("failed", "Not recorded: buttons just changed. Tap again.");
    signal("failed");
  }

  /** @param {string} key @param {number} at_mono_ms */
  function press(key, at_mono_ms) {
    const at = clock.stamp(at_mono_ms);
    const kind = nextOf(key, parts.standing());
    flash(key, "taken");
    announce("taken", `Storing · ${eventName(kind)}`);
    signal("taken");
    const first = sameZero(parts.standing(), { kind, t_ms: at.t_ms });
    if (first) void takeAsking(kind, key, at, (finish) => askZeroAgain({ at, first, by: parts.who(first), signal, finish, kind }));
    else if (EVENTS[kind]?.key.ask) void takeAsking(kind, key, at, (finish, made) => askDetail(kind, at, finish, made));
    else void stored(recorder.tap(kind, at), key);
  }

  /** @param {Promise<RecordRow>} work @param {string} key */
  async function stored(work, key) {
    try {
      const row = await work;
      confirm(row);
      flash(key, "stored");
    } catch (error) {
      flash(key, "failed");
      fail(error);
    }
  }

  /**
   * The moment is durable before the question is asked.
   * @param {string} kind @param {string} key @param {Stamp} at
   * @param {(finish: (chosen?: Detail) => void, made: RecordRow) => void} ask
   */
  async function takeAsking(kind, key, at, ask) {
    const { made, stored: durable } = recorder.draft(kind, at);
    const draft = stored(durable, key);
    ask(async (chosen) => {
      await draft;
      try {
        const row = await recorder.finish(made, chosen);
        if (row) confirm(row);
        else fail(null);
      } catch (error) {
        fail(error);
      }
    }, made);
  }

  /**
   * @param {string} kind @param {Stamp} at
   * @param {(chosen?: Detail) => void} finish @param {RecordRow} made
   */
  function askDetail(kind, at, finish, made) {
    const known = EVENTS[kind];
    if (known?.choices) {
      const isSaid = known.choices.key === "class";
      return askChoice({
        at, signal, finish, kind,
        saidBefore: isSaid ? withNews(parts.warnings(), saidIn(parts.standing())) : [],
        takePhoto: isSaid ? () => parts.openCamera(made) : undefined,
      });
    }
    const speed = unitOf("speed", units());
    const isSpeed = known?.value?.units.includes(speed) ?? false;
    askValue({
      at, signal, kind,
      finish(chosen) {
        const first = sameZero(parts.standing(), { kind, value: chosen?.value, t_ms: at.t_ms });
        if (first) askZeroAgain({ at, first, by: parts.who(first), signal, kind, finish: (answer) => finish({ ...chosen, ...answer }) });
        else finish(chosen);
      },
      unit: isSpeed ? speed : known?.value?.units[0] ?? "",
      start: startValue(kind, isSpeed),
      remember: (value) => prefs.set({ steppers: { ...prefs.get().steppers, [kind]: value } }),
    });
  }

  /** @param {string} kind @param {boolean} isSpeed */
  function startValue(kind, isSpeed) {
    const kept = prefs.get().steppers[kind];
    if (isSpeed) {
      const speed_mps = parts.fix()?.speed_mps;
      return speed_mps ? 5 * Math.round(convert("speed", speed_mps, units()) / 5) : kept ?? 60;
    }
    const rows = parts.standing();
    const seen = rows.map(shownSoc).findLast((soc) => soc !== null) ?? kept ?? 6;
    const rises = phaseOf(rows, parts.protocol()) === "charging";
    return rises ? Math.min(100, Math.floor(seen) + 1) : Math.max(0, Math.ceil(seen) - 1);
  }

  async function takeBack() {
    const row = undoable();
    if (!row) return;
    signal("taken");
    announce("taken", `Undoing · ${recordName(row)}`);
    try {
      const made = await recorder.undo(row);
      const moved = !isWithdrawal(made) && made.doc.t_ms !== row.doc.t_ms;
      const restored = moved ? `; ${timeOfDay(made.doc.t_ms)} counts again` : "";
      announce("stored", `Undone · ${recordName(row)}${restored}`);
      signal("stored");
    } catch (error) {
      fail(error);
    }
    update();
  }

  function openMore() {
    const now = /** @type {Phase} */ (grid.dataset.phase);
    const rest = [...keys].filter(([kind]) => !keysOf(now).includes(kind));
    const tiles = rest.map(([kind, { button }]) => {
      const tile = /** @type {HTMLElement} */ (button.cloneNode(true));
      delete tile.dataset.state;
      onTap(tile, (at) => {
        sheet.close();
        press(kind, at);
      });
      return tile;
    });
    const sheet = showSheet("More that can happen", [h("div", { class: "tiles" }, ...tiles)], { name: "more" });
  }

  // --- saying what was stored -------------------------------------------------------------
  let turn = 0;
  let confirmed_ms = -Infinity;
  let waiting = /** @type {ReturnType<typeof setTimeout> | undefined} */ (undefined);

  /**
   * @param {"taken" | "stored" | "failed"} tone @param {string} text
   * @param {RecordRow | null} [row] that it names: what undo takes back
   * @returns {number} the turn of the line; another one stands there as soon as that is past
   */
  function announce(tone, text, row = null) {
    clearTimeout(waiting);
    line.dataset.tone = tone;
    say(status, text);
    named = row;
    confirmed_ms = row ? performance.now() : -Infinity;
    offerUndo();
    return (turn += 1);
  }

  /**
   * News that no touch asked for waits until the last tap's confirmation has been seen.
   * @param {"taken" | "stored" | "failed"} tone @param {string} text
   */
  function notice(tone, text) {
    clearTimeout(waiting);
    const rest_ms = confirmed_ms + CONFIRMED_MS - performance.now();
    if (rest_ms > 0) waiting = setTimeout(() => notice(tone, text), rest_ms);
    else announce(tone, text);
  }

  /**
   * A photo or a spoken note takes its time; what was tapped meanwhile keeps the line, and its undo.
   * @param {"photo" | "voice"} what @param {Promise<string>} work resolves with what was stored, in words
   */
  async function keepBeside(what, work) {
    const button = what === "photo" ? photo : voice;
    const tap = what === "voice" ? undoable() : null; // twenty seconds are long: what was tapped can still be taken back
    const mine = announce("taken", what === "photo" ? "Storing · photo"
      : `Listening, up to 20 s. Touch again to stop.${tap ? ` Undo: ${recordName(tap)}` : ""}`, tap);
    try {
      const words = await work;
      mark(button, "stored");
      signal("stored");
      if (turn === mine) announce("stored", words);
    } catch (error) {
      mark(button, "failed");
      fail(error);
    }
  }

  /** Only what the line names, while it stands: nobody could know what else is taken. */
  const undoable = () => named && (parts.standing().find(({ id }) => id === named?.id) ?? null);

  function offerUndo() {
    const row = undoable();
    if (!row && document.activeElement === undo) read.focus(); // a disabled button loses the focus
    undo.disabled = !row;
    undo.setAttribute("aria-label", row ? `Undo: ${recordName(row)}` : "Undo");
  }

  /** @param {RecordRow} row */
  function confirm(row) {
    touched_ms = performance.now();
    announce("stored", `Stored ${timeOfDay(row.doc.t_ms)} · ${recordName(row)}`, row);
    signal("stored");
    update();
  }

  /** @param {unknown} error */
  function fail(error) {
    const full = error instanceof DOMException && error.name === "QuotaExceededError";
    announce("failed", full
      ? "NOT STORED: storage is full. Free some; keep this page open."
      : "NOT STORED yet: trying again. Keep this page open.");
    signal("failed");
  }

  /** @param {string} key @param {"taken" | "stored" | "failed"} state */
  function flash(key, state) {
    const button = keys.get(key)?.button;
    if (button) mark(button, state);
  }

  /** @param {HTMLElement} button @param {"taken" | "stored" | "failed"} state */
  function mark(button, state) {
    button.dataset.state = state;
    setTimeout(() => {
      if (button.dataset.state === state) delete button.dataset.state;
    }, state === "failed" ? 4 * FLASH_MS : FLASH_MS);
  }

  // --- keeping it true --------------------------------------------------------------------
  let reorder = /** @type {ReturnType<typeof setTimeout> | undefined} */ (undefined);

  /** @param {Phase} phase */
  function order(phase) {
    const before = grid.dataset.phase;
    if (before === phase) return;
    grid.dataset.phase = phase;
    clearTimeout(reorder);
    const place = () => {
      const places = before ? keysOf(/** @type {Phase} */ (before)) : [];
      moved.clear();
      keysOf(phase).forEach((name, i) => places[i] !== name && moved.add(name));
      const held = grid.contains(document.activeElement) ? document.activeElement : null;
      grid.replaceChildren(...keysOf(phase).flatMap((name) => keys.get(name)?.button ?? []));
      const again = held && grid.contains(held) ? held : grid.firstElementChild;
      if (held && again instanceof HTMLElement) again.focus({ preventScroll: true });
      settled_ms = before ? performance.now() : -Infinity;
    };
    // the flash of the tapped key is seen where the finger was
    if (before) reorder = setTimeout(place, REORDER_MS);
    else place();
  }

  /** What was skipped isn't drawn as passed. @param {Phase[]} been */
  function drawScale(been) {
    for (const mark of marks) {
      const phase = /** @type {Phase} */ (mark.dataset.phase);
      const isNow = phase === been.at(-1);
      mark.dataset.is = isNow ? "now" : been.includes(phase) ? "done" : "ahead";
      if (isNow) mark.setAttribute("aria-current", "step");
      else mark.removeAttribute("aria-current");
    }
  }

  function updateKeys() {
    const rows = parts.standing();
    const been = phasesOf(rows, parts.protocol());
    order(been.at(-1) ?? "before");
    drawScale(been);
    const now_ms = clock.stamp().t_ms;
    for (const [name, { button, label, hint }] of keys) {
      const kinds = KEYS.get(name) ?? [];
      // of a zero the tap that counts
      const last = sameZero(rows, { kind: name, t_ms: -Infinity }) ?? latestEvent(rows, ...kinds);
      const next = EVENTS[nextOf(name, rows)]?.key;
      const isOn = last !== null && next !== keyOf(name);
      say(hint, isOn ? `${EVENTS[last.doc.kind]?.short} for ${span(now_ms - last.doc.t_ms)}`
        : last ? `✓ ${[parts.who(last), timeOfDay(last.doc.t_ms)].filter(Boolean).join(" ")}` : next?.hint ?? "");
      say(label, next?.label ?? name); // what the next touch will mean
      button.classList.toggle("on", isOn);
      button.classList.toggle("done", next?.once === true && last !== null);
    }
    offerUndo();
  }

  function updateFigures() {
    const rows = parts.standing();
    const [since, gone_m] = distanceShown(rows);
    say(distanceLabel, `${since} · estimate`);
    say(distance, formatNumber(convert("distance", gone_m, units()), 2));
    say(distanceUnit, units().distance);
    const now_ms = clock.stamp().t_ms;
    const speed_mps = speedNow(now_ms);
    say(speed, speed_mps === null ? "–" : formatNumber(convert("speed", speed_mps, units()), 0));
    say(speedUnit, unitOf("speed", units()));
    const shown = rows.findLast((row) => row.type === "reading" || (!isLog(row) && shownSoc(row) !== null));
    say(readWhat, shown ? shortName(shown) : "no reading yet");
    say(readAge, shown ? `${shortSpan(now_ms - shown.doc.t_ms)} ago` : "");
    const charge = phaseOf(rows, parts.protocol()) === "charging" ? chargeOf(rows, now_ms, startPct()) : null;
    if (charge && !hero.hidden && parts.cells().screen.tone !== "good") notice("taken", `While it charges ${SCREEN_MAY_DIM}`);
    hero.hidden = scale.hidden = charge !== null;
    recharge.show(charge, now_ms);
    strip.show(parts.cells());
    const left_ms = parts.voiceLeft_ms();
    const left = left_ms === null ? "" : span(left_ms);
    voice.classList.toggle("listens", left !== "");
    voice.setAttribute("aria-label", left ? `${left} left: stop the spoken note` : "Say it: a spoken note of up to 20 seconds");
    say(voice, left ? `■ ${left}` : "Say it");
  }

  const startPct = () => parts.protocol().start_soc_pct ?? null;

  /** @param {RecordRow[]} rows @returns {[string, number]} since when, and how far */
  function distanceShown(rows) {
    const zero = zeroOf(rows, parts.protocol());
    const zero_m = zero && zero.t_ms <= clock.stamp().t_ms ? parts.alongAt(zero.t_ms) : null;
    if (!zero || zero_m === null) {
      const start = runStart(rows); // laps may have been checked before
      return start ? ["Since the start", parts.alongM() - (start.along_m ?? 0)] : ["Recorded", parts.alongM()];
    }
    return [`Since ${EVENTS[zero.basis]?.short ?? timeOfDay(zero.t_ms)}`, parts.alongM() - zero_m];
  }

  /** @param {number} now_ms @returns {number | null} null: the receiver doesn't say, or no more */
  function speedNow(now_ms) {
    const fix = parts.fix();
    return fix && now_ms - fix.t_ms < FRESH_SPEED_MS ? fix.speed_mps : null;
  }

  function updateAdvice() {
    const rows = parts.standing();
    const phase = phaseOf(rows, parts.protocol());
    const now_ms = clock.stamp().t_ms;
    const words = paceWords(rows, phase, now_ms) ?? figureWords(rows, phase, now_ms);
    const isNews = advice.show(words);
    read.classList.toggle("wanted", words?.kind === "note");
    // nobody looks at a phone beside a charger
    if (isNews && (words?.kind === "band" || phase === "charging")) signal("advice");
  }

  /** @param {RecordRow[]} rows @param {Phase} phase @param {number} now_ms */
  function paceWords(rows, phase, now_ms) {
    const speed_mps = speedNow(now_ms);
    const band_kmh = phase === "off" || phase === "charging" ? null : parts.protocol().speed_band_kmh ?? null;
    const mayGoFaster = !isHeldBack(rows) && !isFloored(rows);
    const side = band.update({ speed_mps, now_ms, band_kmh, mayGoFaster });
    return side && speed_mps !== null && band_kmh ? bandWords(side, speed_mps, band_kmh, units()) : null;
  }

  /** @param {RecordRow[]} rows @param {Phase} phase @param {number} now_ms */
  function figureWords(rows, phase, now_ms) {
    const along_m = parts.alongM();
    const standing = { rows, phase, along_m, now_ms, usable_kwh: parts.usableKwh(), start_pct: startPct() };
    const figure = worth.update(standing, performance.now() - touched_ms);
    return figure && noteWords(figure, units());
  }

  function update() {
    updateKeys();
    updateFigures();
    updateAdvice();
  }

  const last = recorder.standing().findLast((row) => !isLog(row));
  if (last) announce("stored", `Recording goes on. Last: ${timeOfDay(last.doc.t_ms)} · ${recordName(last)}`, last);
  update();
  return { element, update, confirm, fail, announce, notice, keepBeside };
}
