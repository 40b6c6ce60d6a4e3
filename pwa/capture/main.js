// @ts-check
/** The capture app's wiring: the only module that touches the browser's globals. */
import { request } from "../shared/api.js";
import { loadUnits, saveUnits } from "../shared/measures.js";
import { padOrder } from "./drive/taps.js";
import { createDriveView } from "./drive/view-drive.js";
import { openPad } from "./drive/view-pad.js";
import { createLapRun } from "./lap-check/lap-run.js";
import { h, onTap, say } from "./page/dom.js";
import { openPrefs } from "./page/prefs.js";
import { closeSheet, showSheet } from "./page/sheet.js";
import { action, settings } from "./page/view-settings.js";
import { openCamera } from "./phone/camera.js";
import { startClock } from "./phone/clock.js";
import { createFeedback } from "./phone/feedback.js";
import { createKeepAwake } from "./phone/keep-awake.js";
import { watchVersions } from "./phone/versions.js";
import { phaseOf } from "./records/evidence.js";
import { parkedRecorder } from "./records/recorder.js";
import { openLog } from "./records/view-log.js";
import { knownWarnings, rememberWarnings } from "./records/warnings.js";
import { recordName, span, timeOfDay } from "./records/words.js";
import { stateCells, stateLines } from "./run/phone-state.js";
import { createPhotoKeeper } from "./run/photo-keeper.js";
import { fixesOf, startRun } from "./run/run.js";
import { openStatus } from "./run/view-status.js";
import { handOver, sessionFile } from "./sending/export.js";
import { createOutbox } from "./sending/outbox.js";
import { createEntrance } from "./sessions/entrance.js";
import { join, takeToken } from "./sessions/pairing.js";
import { askCode } from "./sessions/view-code.js";
import { purposeOf } from "./setup/setup.js";
import { persistence } from "./storage/persistence.js";
import { openStore } from "./storage/store.js";

const CLOCK_CHECK_MS = 5000;
const TICK_MS = 500;
const DRAW_FIX_MS = 300;
const COUNT_AFTER_MS = 150;
const RETRY_MS = 2000;

const newId = () => crypto.randomUUID();
const systemTheme = matchMedia("(prefers-color-scheme: dark)").matches ? "night" : "day";
const prefs = openPrefs(localStorage, systemTheme);
let units = loadUnits(localStorage);
const clock = startClock({ wallMs: () => Date.now(), monoMs: () => performance.now(), page: newId() });
const store = openStore({ indexedDB, estimate: async () => await navigator.storage?.estimate?.() ?? {} });
const signal = createFeedback({
  navigator, Audio: globalThis.AudioContext, soundOn: () => prefs.get().sound,
});
const keepAwake = createKeepAwake({
  navigator, isVisible: () => document.visibilityState === "visible", onChange: () => drive?.update(),
});

let device = "";
/** @type {import("./sending/outbox.js").Outbox} */
let outbox;
/** @type {import("./run/run.js").Run | null} */
let run = null;
/** @typedef {Pick<ReturnType<typeof createDriveView>, "element" | "update" | "announce" | "confirm" | "fail">} Live */
/** @type {Live | null} the page of what is being recorded */
let drive = null;
/** @type {ReturnType<typeof createPhotoKeeper> | null} */
let photos = null;
let counts = { records: 0, chunks: 0, refused: 0, drafts: 0, photos: 0 };
/** @type {import("./storage/persistence.js").Persistence} */
let kept = { kept: null, free_bytes: null };
/** @type {(() => void) | null} */
let useNewVersion = null;
/** @type {() => void} */
let releaseRecording = () => {};

// --- looks ----------------------------------------------------------------------------------

function applyLook() {
  const root = document.documentElement;
  root.dataset.theme = prefs.get().theme;
  root.dataset.hand = prefs.get().hand;
  const ground = getComputedStyle(root).getPropertyValue("--ground").trim();
  document.querySelector("meta[name=theme-color]")?.setAttribute("content", ground);
}

/** @param {HTMLElement} view */
function show(view) {
  closeSheet();
  document.getElementById("app")?.replaceChildren(view);
  document.body.classList.toggle("driving", view.classList.contains("drive"));
  scrollTo(0, 0);
}

/** @param {string} text shown where no drive page can say it */
function tell(text) {
  showSheet("Please note", [h("p", { class: "kept" }, text)], { name: "note" });
}

const menuSettings = () => settings({
  prefs,
  distanceUnit: units.distance,
  setDistanceUnit(distance) {
    units = { ...units, distance };
    saveUnits(localStorage, units);
    prefs.forgetLengths();
    drive?.update();
  },
  apply: applyLook,
});

const { openSessions, openEdit, openChecklist } = createEntrance({
  store, request, clock, newId, show, tell, openRun, openLog: openParkedLog, exportFile,
  device: () => device,
  units: () => units,
  geolocation: navigator.geolocation,
  timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
  newVersion: () => useNewVersion,
  changed(id, setup) {
    if (run?.row.id !== id) return;
    run.row.setup = setup;
    prefs.drives(setup.vehicle?.label ?? "");
  },
  sendSoon: () => outbox.soon(),
  openMenu: () => void showSheet("Menu", [...menuSettings(), byCode()], { name: "menu" }),
});

/** @param {string} id */
async function exportFile(id) {
  const inMemory = run?.row.id === id
    ? { records: run.recorder.unstored(), fixes: run.gps.pending() } : undefined;
  const file = await sessionFile(store, id, device, inMemory);
  const how = await handOver(file, { navigator, document });
  if (how !== "cancelled") tell(`The session was ${how} as ${file.name}.`);
}

// --- the drive ------------------------------------------------------------------------------

/** @param {string} id */
async function openRun(id) {
  const row = await store.session(id);
  if (!row) return openSessions();
  /** @type {ReturnType<typeof createLapRun> | null} */
  let laps = null;
  run = await startRun({
    store, row, device, clock, newId, geolocation: navigator.geolocation,
    later: (work, ms) => window.setTimeout(work, ms),
    onRecord() {
      outbox.soon();
      refreshCounts();
    },
    onTrack: () => outbox.eventually(),
    onPlace: (fix) => laps?.add(fix),
    onFix: drawFix,
    onGap: (text) => drive?.announce("taken", text),
  });
  prefs.drives(row.setup.vehicle?.label ?? "");
  const { gps, lastFix, leftBecause } = run;
  if (purposeOf(row.setup) === "lap_check" || await store.meta("running_as") === "lap_check") {
    const fixes = (await store.chunks(id)).flatMap(fixesOf);
    laps = lapRun(run, fixes);
    drive = { ...laps.view, update: () => (laps?.ask(), laps?.view.update()) };
  } else {
    drive = driveView(run);
  }
  show(drive.element);
  guardBack();
  keepAwake.start();
  holdRecording(() => gps.record(lastFix, leftBecause));
  kept = await persistence(navigator.storage, true);
  refreshCounts();
}

/** @param {import("./run/run.js").Run} run */
function driveView({ row, recorder, gps, odometer, alongAt }) {
  photos = createPhotoKeeper({ add: store.addPhoto, session_id: row.id, device, standing: recorder.standing });
  return createDriveView({
    recorder, clock, prefs, signal,
    units: () => units,
    protocol: () => row.setup.protocol ?? {},
    usableKwh: () => row.setup.vehicle?.pack?.usable_kwh ?? null,
    alongM: odometer.along_m,
    alongAt,
    fix: () => gps.state().fix,
    cells: () => stateCells(phoneState()),
    openPad: (at) => noteDisplay(recorder, padOrder(phaseOf(recorder.standing())), at),
    openCamera: () => openCamera({
      devices: navigator.mediaDevices, signal, gps,
      keep: (picture, at_mono_ms) => void keepPicture(picture, clock.stamp(at_mono_ms).t_ms),
    }),
    openLog: () => void openRunLog(row.id, recorder),
    openMenu,
    openStatus: showStatus,
  });
}

/** @param {Promise<import("./phone/types").Picture>} picture @param {number} t_ms */
async function keepPicture(picture, t_ms) {
  drive?.announce("taken", "Storing · photo");
  try {
    const tap = await photos?.keep(picture, t_ms);
    drive?.announce("stored", `Stored ${timeOfDay(t_ms)} · photo${tap ? ` with ${recordName(tap)}` : ""}`);
    signal("stored");
    outbox.soon();
    refreshCounts();
  } catch (error) {
    drive?.fail(error);
  }
}

/** @param {import("./run/run.js").Run} run @param {import("./storage/rows").Fix[]} fixes */
const lapRun = (run, fixes) => createLapRun({
  store, run, fixes, clock, request,
  isSynced: () => counts.records + counts.chunks === 0,
  hurry: () => outbox.hurry(),
  drawn: () => drive?.update(),
  page: {
    signal,
    units: () => units,
    fix: () => run.gps.state().fix,
    cells: () => stateCells(phoneState()),
    openPad: (at) => noteDisplay(run.recorder, ["trip_distance"], clock.stamp(at)),
    openMenu,
    openStatus: showStatus,
  },
});

/**
 * @param {import("./records/types").Recorder} recorder @param {readonly string[]} quantities
 * @param {import("./phone/types").Stamp} at
 */
const noteDisplay = (recorder, quantities, at) => openPad({
  at, quantities, prefs, distanceUnit: units.distance, signal,
  async store(input, moment) {
    drive?.confirm(await recorder.reading(input, moment));
  },
});

/** @param {string} id @param {import("./records/types").Recorder} recorder */
const openRunLog = async (id, recorder) => openLog({
  recorder,
  warnings: await knownWarnings(store),
  remember: (warning) => rememberWarnings(store, [warning]),
  stored: () => store.records(id),
  pictures: () => store.photos(id),
  confirm: (record) => drive ? drive.confirm(record) : void openParkedLog(id),
  withdrawn: (record) => drive ? drive.announce("stored", `Undone · ${recordName(record)}`) : void openParkedLog(id),
  fail: (error) => drive ? drive.fail(error) : tell("NOT STORED. Free some space on the phone and try again."),
});

/** @param {string} id */
async function openParkedLog(id) {
  await openRunLog(id, await parkedRecorder({
    store, session: id, device, newId, stamp: () => clock.stamp(), onChange: () => outbox.soon(),
  }));
}

/**
 * One tab watches the position; another that opens the same run waits for it to go.
 * @param {() => void} start
 */
function holdRecording(start) {
  if (!navigator.locks) return start();
  const ended = new Promise((resolve) => {
    releaseRecording = () => resolve(undefined);
  });
  void navigator.locks.request("ebbline-recording", () => {
    if (!run) return undefined;
    start();
    return ended;
  });
}

let countDue = false;

/** A little later and not more often, so that a tap finds page and storage free. */
function refreshCounts() {
  if (countDue) return;
  countDue = true;
  setTimeout(async () => {
    countDue = false;
    if (!run) return;
    counts = await store.counts(run.row.id);
    drive?.update();
  }, COUNT_AFTER_MS);
}

let drawn_ms = -Infinity;

/** Ten fixes a second need no ten drawings. */
function drawFix() {
  if (performance.now() - drawn_ms < DRAW_FIX_MS) return;
  drawn_ms = performance.now();
  drive?.update();
}

/** @returns {import("./run/types").PhoneState} */
const phoneState = () => ({
  gps: run?.gps.state() ?? { quality: "off", fix: null, unstored: false, cause: "" },
  counts, kept, outbox: outbox.state(run?.row.id), wake: keepAwake.state(), now_ms: clock.stamp().t_ms,
});

async function showStatus() {
  if (!run) return;
  const id = run.row.id;
  kept = await persistence(navigator.storage, false);
  openStatus(stateLines(phoneState()), [
    action("Send now", "what is unsent", () => {
      outbox.hurry();
      closeSheet();
    }),
    action("Save as file", "leaves the phone without a server", () => void exportFile(id)),
  ]);
}

function showRun() {
  if (drive) show(drive.element);
}

function openMenu() {
  if (!run) return;
  const { row: { id }, recorder } = run;
  showSheet("Menu", [
    ...menuSettings(),
    action("Log", "what was recorded", () => void openRunLog(id, recorder)),
    action("Plan", "car, course and drive; only while parked", () => void openEdit(id, showRun)),
    action("Save as file", "leaves the phone without a server", () => void exportFile(id)),
    byCode(),
    action("End recording", "GPS stops; nothing is deleted", confirmEnd, "off"),
  ], { name: "menu" });
}

function confirmEnd() {
  showSheet("End this recording?", [
    h("p", { class: "kept" }, "GPS stops. The session stays on this phone and can be opened again."),
    action("End it", "", () => void endRun(), "off"),
    action("Go on recording", "", () => closeSheet()),
  ], { name: "end" });
}

async function endRun() {
  if (!run) return;
  const { recorder, gps } = run;
  await gps.stop();
  await recorder.retry();
  await photos?.retry();
  const [taps, fixes, pictures] = [recorder.failed(), gps.pending().length, photos?.waiting() ?? 0];
  if (taps || fixes || pictures) {
    gps.resume();
    tell(`Not ended: ${taps} taps, ${fixes} positions and ${pictures} photos are only in this page's memory. Free some space on the phone and wait until they are stored, or save the session as a file: it holds the taps and positions too.`);
    return;
  }
  await store.setMeta("running", null);
  keepAwake.stop();
  releaseRecording();
  run = null;
  drive = null;
  photos = null;
  outbox.hurry();
  await openSessions();
}

// --- what the phone does to us --------------------------------------------------------------

let guardedWithoutTouch = false;

/**
 * An entry for the back gesture to use up. Browsers skip those that were made without a touch, so
 * that the next touch makes another.
 * @param {boolean} [withoutTouch]
 */
function guardBack(withoutTouch = true) {
  history.pushState({ guard: true }, "");
  guardedWithoutTouch = withoutTouch;
}

function checkClock() {
  const step = clock.check();
  if (!step || !run) return;
  const { step_ms, cause } = step;
  const text = cause === "sleep" ? `The phone slept for ${span(step_ms)}` : `The phone's clock was set by ${step_ms / 1000} s`;
  void run.recorder.log(text, "clock_step", { clock_step: { step_ms, cause } });
}

function listen() {
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") {
      clock.noteHidden();
      run?.gps.hidden();
      return;
    }
    checkClock();
    run?.gps.shown();
    void run?.recorder.refresh();
    keepAwake.shown();
    outbox.hurry();
  });
  addEventListener("pagehide", () => void run?.gps.flush());
  addEventListener("beforeunload", (event) => {
    if (run?.recorder.failed() || run?.gps.state().unstored || photos?.waiting()) event.preventDefault(); // what could not be stored would be lost
  });
  addEventListener("online", () => outbox.hurry());
  addEventListener("hashchange", () => {
    const token = takeToken(location, history);
    if (token !== null) void openByCode(token);
  });
  addEventListener("pointerup", () => {
    if (run && guardedWithoutTouch) guardBack(false);
  });
  addEventListener("popstate", () => {
    if (!run) return;
    guardBack();
    if (!closeSheet()) drive?.announce("taken", "Back is off while recording. Menu ends it.");
  });
  document.addEventListener("gesturestart", (event) => {
    if (run) event.preventDefault(); // WebKit pinches in spite of touch-action
  });
  setInterval(() => {
    if (document.visibilityState === "visible") drive?.update();
  }, TICK_MS);
  setInterval(checkClock, CLOCK_CHECK_MS);
  setInterval(() => {
    if (run && (run.recorder.failed() || photos?.waiting())) void retry(run.recorder);
  }, RETRY_MS);
}

/** @param {import("./records/types").Recorder} recorder */
async function retry(recorder) {
  await recorder.retry();
  await photos?.retry();
  if (!recorder.failed() && !photos?.waiting()) drive?.announce("stored", "All stored again.");
}

const byCode = () => action("Join by a code", "a link from the desk", () => askCode((token) => void openByCode(token)));

/** A code was scanned. @param {string} token */
async function openByCode(token) {
  const joined = await join({ store, request, device }, token);
  if ("problem" in joined) {
    if (!run) await openSessions();
    tell(joined.problem);
    return;
  }
  outbox.hurry();
  if (!run) await openChecklist(joined.id);
  else if (run.row.id !== joined.id) tell("Code saved. Open it after this recording.");
}

async function start() {
  const token = takeToken(location, history);
  applyLook();
  device = await store.meta("device") ?? "";
  if (!device) {
    device = `phone-${newId().slice(0, 8)}`;
    await store.setMeta("device", device);
  }
  outbox = createOutbox({
    store, request, device, newId,
    stamp: () => clock.stamp(), monoMs: () => performance.now(), random: Math.random,
    exclusive: async (name, work) => navigator.locks
      ? navigator.locks.request(name, { ifAvailable: true }, (lock) => lock ? work() : undefined)
      : work(),
    onChange: refreshCounts,
  });
  listen();
  const running = await store.meta("running");
  if (running) await openRun(running);
  if (token !== null) await openByCode(token);
  else if (!running) void openSessions();
  outbox.hurry(); // not before: the page comes first
  watchVersions(navigator.serviceWorker, {
    onReady(use) {
      useNewVersion = use;
      if (!run && document.querySelector("main.sessions")) void openSessions();
    },
    reload: () => location.reload(),
  }).catch(() => {
    // without a service worker (a private window, an untrusted certificate) it works online only
  });
}

start().catch((error) => {
  const reason = error instanceof Error ? error.message : String(error);
  const again = h("button", { class: "key wide primary" }, h("span", {}, "Try again"));
  onTap(again, () => location.reload());
  const words = h("p", {});
  say(words, `This phone's storage could not be opened (${reason}). Nothing can be recorded like this. Leave private mode, free some space, then try again.`);
  document.getElementById("app")?.replaceChildren(h("main", { class: "page" }, h("h1", {}, "Not ready"), words, again));
});
