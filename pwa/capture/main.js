// @ts-check
/** The capture app's wiring: the only module that touches the browser's globals. */
import { request } from "../shared/api.js";
import { createKeepAwake } from "../shared/keep-awake.js";
import { loadUnits, saveUnits } from "../shared/measures.js";
import { createCrew } from "./crew/crew.js";
import { padOrder, padRow } from "./drive/taps.js";
import { createDriveView } from "./drive/view-drive.js";
import { openPad } from "./drive/view-pad.js";
import { createLapRun } from "./lap-check/lap-run.js";
import { focusHead, guardTouches, h, onTap } from "./page/dom.js";
import { openPrefs } from "./page/prefs.js";
import { closeSheet, showSheet } from "./page/sheet.js";
import { action, settings } from "./page/view-settings.js";
import { openCamera } from "./phone/camera.js";
import { startClock } from "./phone/clock.js";
import { createFeedback } from "./phone/feedback.js";
import { createMicrophone } from "./phone/microphone.js";
import { watchVersions } from "./phone/versions.js";
import { ENDED } from "./position/gps.js";
import { isBeforeRun, isWithdrawal, lastShown, phaseOf, RUN_START, standing } from "./records/evidence.js";
import { parkedRecorder } from "./records/recorder.js";
import { openLog } from "./records/view-log.js";
import { knownWarnings, rememberWarnings } from "./records/warnings.js";
import { keptName, recordName, shortSpan, span, timeOfDay } from "./records/words.js";
import { SCREEN_MAY_DIM, isFresh, stateCells, stateLines } from "./run/phone-state.js";
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
/** Older than this it is no news: the page has just come back, or the other phone has. */
const NEWS_MS = 60000;
const SLOW_START_MS = 5000;

const TRIP_METER = { row: ["trip_distance"], quantities: ["trip_distance"] };

const isVisible = () => document.visibilityState === "visible";
const newId = () => crypto.randomUUID();
const systemDark = matchMedia("(prefers-color-scheme: dark)");
const prefs = openPrefs(localStorage);
let units = loadUnits(localStorage);
const clock = startClock({ wallMs: () => Date.now(), monoMs: () => performance.now(), page: newId() });
const store = openStore({ indexedDB, estimate: async () => await navigator.storage?.estimate?.() ?? {} });
const signal = createFeedback({
  navigator, Audio: globalThis.AudioContext, soundOn: () => prefs.get().sound,
});
const keepAwake = createKeepAwake({
  navigator, isVisible, onChange: wakeChanged,
});
const microphone = createMicrophone({
  devices: navigator.mediaDevices, Recorder: globalThis.MediaRecorder, monoMs: () => performance.now(),
  onChange: () => drive?.update(),
});

let device = "";
/** @type {import("./sending/outbox.js").Outbox} */
let outbox;
/** @type {ReturnType<typeof createCrew>} */
let crew;
/** @type {import("./run/run.js").Run | null} */
let run = null;
/** @typedef {Pick<ReturnType<typeof createDriveView>, "element" | "update" | "notice" | "confirm" | "fail">} LivePart */
/** @typedef {LivePart & { announce: (tone: "taken" | "stored" | "failed", text: string) => unknown }} Live */
/** @type {Live | null} the page of what is being recorded */
let drive = null;
/** @type {ReturnType<typeof createLapRun> | null} while laps are checked */
let laps = null;
/** @type {ReturnType<typeof createPhotoKeeper> | null} */
let photos = null;
/** the last spoken note, until it is stored @type {Promise<unknown>} */
let spoken = Promise.resolve();
let counts = { records: 0, chunks: 0, refused: 0, drafts: 0, photos: 0 };
/** @type {readonly import("../shared/warnings.js").KnownWarning[]} said before this run, the latest first */
let warnings = [];
/** @type {import("./storage/persistence.js").Persistence} */
let kept = { kept: null, free_bytes: null };
/** @type {(() => void) | null} */
let useNewVersion = null;
/** @type {() => void} */
let releaseRecording = () => {};
/** another tab of this phone watches the position */
let elsewhere = false;

/** Nobody watches the strip for an hour: what is lost is said. */
function wakeChanged() {
  if (drive && keepAwake.state() === "lost" && isVisible()) {
    drive.notice("failed", `No longer kept on: ${SCREEN_MAY_DIM}`);
    signal("advice");
  }
  drive?.update();
  phoneChanged();
}

// --- looks ----------------------------------------------------------------------------------

function applyLook() {
  const root = document.documentElement;
  const { theme } = prefs.get();
  root.dataset.theme = theme !== "system" ? theme : systemDark.matches ? "night" : "day";
  root.dataset.hand = prefs.get().hand;
  const ground = getComputedStyle(root).getPropertyValue("--ground").trim();
  document.querySelector("meta[name=theme-color]")?.setAttribute("content", ground);
}

/** @param {HTMLElement} view */
function show(view) {
  clearTimeout(slowStart);
  closeSheet();
  document.getElementById("app")?.replaceChildren(view);
  document.body.classList.toggle("driving", view.classList.contains("drive"));
  scrollTo(0, 0);
  focusHead(view);
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

const { openSessions, openEdit, openChecklist, phoneChanged, positionChanged, unsentChanged } = createEntrance({
  store, request, clock, newId, show, tell, openRun, openLog: openParkedLog, exportFile,
  device: () => device,
  units: () => units,
  geolocation: navigator.geolocation,
  keepAwake,
  askToKeep: () => persistence(navigator.storage, true),
  timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
  newVersion: () => useNewVersion,
  changed(id, setup) {
    if (run?.row.id !== id) return;
    run.row.setup = setup;
    prefs.drives(setup.vehicle?.label ?? "");
  },
  sendSoon: () => outbox.soon(),
  sendNow: () => outbox.hurry(),
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

/** @param {string} id @param {boolean} [begins] it is started now, not gone on with after a reload */
async function openRun(id, begins = false) {
  const row = await store.session(id);
  if (!row) return openSessions();
  laps = null;
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
    onGap: (text) => drive?.notice("taken", text),
  });
  await crew.recall();
  prefs.drives(row.setup.vehicle?.label ?? "");
  const { gps, lastFix, leftBecause } = run;
  const purpose = await store.meta("running_as") ?? purposeOf(row.setup);
  warnings = await knownWarnings(store);
  if (begins && purpose === "run" && run.odometer.along_m() > 0) await beginRun(run);
  await showAs(run, purpose);
  const { crew_age_ms: age_ms } = phoneState();
  if (age_ms !== null && !isFresh(age_ms)) drive?.notice("taken", `What the others tapped is known as of ${shortSpan(age_ms)} ago`);
  guardBack();
  crew.hurry();
  keepAwake.start();
  holdRecording(() => gps.record(lastFix, leftBecause));
  kept = await persistence(navigator.storage, true);
  refreshCounts();
}

/**
 * The recording goes on; only its page changes.
 * @param {import("./run/run.js").Run} live @param {import("./setup/setup.js").Purpose} purpose
 */
async function showAs(live, purpose) {
  /** @type {Live} */
  let page;
  if (purpose === "lap_check") {
    const stored = (await store.chunks(live.row.id)).flatMap(fixesOf);
    const checked = laps = lapRun(live, [...stored, ...live.gps.pending()]);
    page = { ...checked.view, update: () => (checked.ask(), checked.view.update()) };
  } else {
    laps = null;
    page = driveView(live);
  }
  drive = page;
  show(page.element);
}

/** Distance counts from here, where nothing but laps was recorded before. @param {import("./run/run.js").Run} live */
async function beginRun({ recorder }) {
  if (isBeforeRun(recorder.standing())) await recorder.log("The run starts", RUN_START, {});
}

/** @param {import("./setup/setup.js").Purpose} purpose */
async function goOnAs(purpose) {
  if (!run) return;
  await store.setMeta("running_as", purpose);
  if (purpose === "run" && purposeOf(run.row.setup) === "lap_check") {
    const { id } = run.row;
    run.row.setup = (await store.changeSession(id, (held) => ({
      ...held, setup: { ...held.setup, session: { ...held.setup.session, purpose } }, setup_unsent: 1,
    }))).setup;
  }
  if (purpose === "run") await beginRun(run);
  await showAs(run, purpose);
  drive?.announce("stored", purpose === "run"
    ? "The run has begun, in the same recording." : "Recording goes on. Drive one to three laps.");
}

/** @param {import("./run/run.js").Run} run */
function driveView({ row, recorder, gps, odometer, alongAt }) {
  photos ??= createPhotoKeeper({ add: store.addPhoto, session_id: row.id, device, standing: recorder.standing });
  /** @param {import("./storage/rows").RecordRow} [of] */
  const camera = (of) => openCamera({
    devices: navigator.mediaDevices, signal, gps,
    keep: (picture, at_mono_ms) => void view.keepBeside("photo", keepPicture(picture, clock.stamp(at_mono_ms).t_ms, of)),
  });
  const view = createDriveView({
    recorder, clock, prefs, signal,
    standing: () => standingOf(recorder),
    who: (row) => crew.who(row),
    units: () => units,
    protocol: () => row.setup.protocol ?? {},
    usableKwh: () => row.setup.vehicle?.pack?.usable_kwh ?? null,
    alongM: odometer.along_m,
    alongAt,
    fix: () => gps.state().fix,
    cells: () => stateCells(phoneState()),
    warnings: () => warnings,
    openPad(at) {
      const phase = phaseOf(standingOf(recorder), row.setup.protocol ?? {});
      noteDisplay(recorder, { row: padRow(phase), quantities: padOrder(phase) }, at, () => camera());
    },
    openCamera: camera,
    touchVoice: () => void touchVoice(view),
    voiceLeft_ms: microphone.left_ms,
    openLog: () => void openRunLog(row.id, recorder),
    openMenu,
    openStatus: showStatus,
  });
  return view;
}

/** One touch begins a spoken note, the next one ends it. @param {ReturnType<typeof createDriveView>} view */
async function touchVoice(view) {
  if (microphone.isOn()) return microphone.stop();
  if (!prefs.get().listens) return askToListen(view);
  try {
    await microphone.record((note) => {
      spoken = view.keepBeside("voice", keepPicture(note, clock.stamp().t_ms));
    });
  } catch (error) {
    view.announce("failed", `Not recorded. ${error instanceof Error ? error.message : error}`);
    signal("failed");
  }
}

/** Once, in words; the browser asks in its own when the first note begins. @param {ReturnType<typeof createDriveView>} view */
function askToListen(view) {
  const sheet = showSheet("Spoken notes", [
    h("p", { class: "kept" }, "A touch on Say it records up to 20 seconds of what is heard in the car: what the car says, or you. It is kept with the last tap, sent and filed like a photo, and heard at the desk. Nothing is recorded without a touch. Everybody in the car should agree."),
    action("All agree: record now", "the browser asks for the microphone", () => {
      prefs.set({ listens: true });
      sheet.close();
      void touchVoice(view);
    }, "zero"),
    action("Not now", "", () => sheet.close()),
  ], { name: "listen" });
}

/**
 * @param {Promise<import("./phone/types").Picture>} picture or a spoken note @param {number} t_ms
 * @param {import("./storage/rows").RecordRow} [of] the tap that asked for it
 * @returns {Promise<string>} what was stored, in words
 */
async function keepPicture(picture, t_ms, of) {
  const tap = await photos?.keep(picture, t_ms, of);
  outbox.soon();
  refreshCounts();
  return `Stored ${timeOfDay(t_ms)} · ${keptName(await picture).toLowerCase()}${tap ? ` with ${recordName(tap)}` : ""}`;
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
    openPad: (at) => noteDisplay(run.recorder, TRIP_METER, clock.stamp(at)),
    startRun: () => goOnAs("run"),
    openMenu,
    openStatus: showStatus,
  },
});

/**
 * @param {import("./records/types").Recorder} recorder
 * @param {{ row: string[], quantities: string[] }} figures
 * @param {import("./phone/types").Stamp} at @param {() => void} [camera]
 */
const noteDisplay = (recorder, figures, at, camera) => openPad({
  ...figures, at, prefs, distanceUnit: units.distance, signal, openCamera: camera, stamp: clock.stamp,
  last: (quantity) => lastShown(standingOf(recorder), quantity),
  async store(input, moment) {
    drive?.confirm(await recorder.reading(input, moment));
  },
});

/** What stands of all that the crew recorded. @param {import("./records/types").Recorder} recorder */
const standingOf = (recorder) => standing(crew.beside(recorder.rows()));

/** Whether what is recorded reaches the server. @param {import("./sending/types").OutboxState} state */
const isReaching = ({ synced_ms, problem, shut }) => synced_ms !== null && !problem && !shut;

/** What another phone has just recorded, or the desk. @param {import("./storage/rows").RecordRow[]} rows */
function tellNews(rows) {
  if (!run) return;
  const last = rows.findLast(({ doc }) => clock.stamp().t_ms - doc.t_ms < NEWS_MS);
  const before = last && isWithdrawal(last) && crew.beside(run.recorder.rows()).find(({ id }) => id === last.doc.corrects);
  if (last) drive?.notice("stored", `${crew.who(last)} · ${before ? `undone: ${recordName(before)}` : `${recordName(last)}, ${timeOfDay(last.doc.t_ms)}`}`);
  drive?.update();
}

/** @param {string} id @param {import("./records/types").Recorder} recorder */
const openRunLog = async (id, recorder) => openLog({
  recorder,
  beside: (own) => (run?.recorder === recorder ? crew.beside(own) : own),
  who: (row) => (run?.recorder === recorder ? crew.who(row) : ""),
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
 * One tab watches the position; another that opens the same run says so and waits for it to go.
 * @param {() => void} start
 */
function holdRecording(start) {
  if (!navigator.locks) return start();
  const ended = new Promise((resolve) => {
    releaseRecording = () => resolve(undefined);
  });
  const hold = () => {
    if (!run) return undefined;
    if (elsewhere) drive?.notice("stored", "This tab records now.");
    elsewhere = false;
    start();
    return ended;
  };
  void navigator.locks.request("ebbline-recording", { ifAvailable: true }, (lock) => {
    if (lock) return hold();
    elsewhere = true;
    drive?.announce("failed", "Another tab of this phone records. Go on there, or close it.");
    drive?.update();
    void navigator.locks.request("ebbline-recording", hold);
    return undefined;
  });
}

let countDue = false;

/** A little later and not more often, so that a tap finds page and storage free. */
function refreshCounts() {
  if (countDue) return;
  countDue = true;
  setTimeout(async () => {
    countDue = false;
    if (!run) return unsentChanged();
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
  elsewhere, counts, kept, outbox: outbox.state(run?.row.id), wake: keepAwake.state(), now_ms: clock.stamp().t_ms,
  crew_age_ms: crew.heard_ms() === null ? null : Math.max(0, Date.now() - Number(crew.heard_ms())),
});

async function showStatus() {
  if (!run) return;
  const id = run.row.id;
  kept = await persistence(navigator.storage, false);
  const again = action("Try again", "ask for the position", lookAgain, "zero");
  openStatus(() => {
    const state = phoneState();
    again.hidden = !["denied", "lost", "waiting"].includes(state.gps.quality);
    return stateLines(state);
  }, [
    again,
    action("Send now", "what is unsent", () => {
      outbox.hurry();
      closeSheet();
    }),
    action("Save as file", "leaves the phone without a server", () => void exportFile(id)),
  ]);
}

/** The position was allowed, or somebody thinks so. */
function lookAgain() {
  run?.gps.again();
  positionChanged();
  drive?.update();
}

/** Allowed in the browser's settings while the page is open: a watch that was refused hears nothing of it. */
async function watchPermission() {
  try {
    const permission = await navigator.permissions.query({ name: "geolocation" });
    permission.addEventListener("change", lookAgain);
  } catch {
    // not told here: the sheet's key asks again
  }
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
    laps ? null : action("Check a lap", "in the same recording", () => void goOnAs("lap_check")),
    action("End recording", "GPS stops; nothing is deleted", confirmEnd, "off"),
  ].filter((one) => one !== null), { name: "menu" });
}

/** Nobody ends the day by accident: what would be missed is said, and what comes next is offered first. */
function confirmEnd() {
  if (!run) return;
  const missed = laps ? "The run can go on in this recording, without a gap."
    : phaseOf(standingOf(run.recorder), run.row.setup.protocol ?? {}) === "charging" ? "While it charges, every figure noted still counts."
      : "The car is not plugged in yet, as far as was tapped. Its end and its recharge would be missing.";
  showSheet("End this recording?", [
    h("p", { class: "kept" }, `${missed} Ending stops GPS. The session stays on this phone and can be opened again.`),
    laps ? action("Start the run", "same recording", () => void goOnAs("run"), "zero") : null,
    action("Go on recording", "", () => closeSheet()),
    action("End it", "GPS stops", () => void endRun(), "off"),
  ].filter((one) => one !== null), { name: "end" });
}

async function endRun() {
  if (!run) return;
  const { recorder, gps } = run;
  microphone.stop();
  await Promise.all([gps.stop(), spoken]);
  await recorder.retry();
  await photos?.retry();
  const [taps, fixes, pictures] = [recorder.failed(), gps.pending().length, photos?.waiting() ?? 0];
  if (taps || fixes || pictures) {
    gps.resume();
    tell(`Not ended: ${taps} taps, ${fixes} positions and ${pictures} photos or spoken notes are only in this page's memory. Free some space on the phone and wait until they are stored, or save the session as a file: it holds the taps and positions too.`);
    return;
  }
  await store.setMeta("gps_left", { session: run.row.id, cause: ENDED });
  await store.setMeta("running", null);
  keepAwake.stop();
  releaseRecording();
  run = drive = laps = photos = null;
  elsewhere = false;
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
      microphone.stop(); // what was heard is stored while the page still runs
      return;
    }
    checkClock();
    run?.gps.shown();
    void run?.recorder.refresh();
    keepAwake.shown();
    outbox.hurry();
    crew.hurry();
  });
  addEventListener("pagehide", (event) => {
    if (!isCached(event)) return void run?.gps.flush();
    store.leave();
    releaseRecording();
  });
  addEventListener("pageshow", (event) => {
    if (isCached(event)) void comeBack();
  });
  addEventListener("beforeunload", (event) => {
    if (inMemoryOnly() || microphone.isOn()) event.preventDefault(); // what could not be stored would be lost
  });
  for (const touch of ["pointerup", "keydown"]) addEventListener(touch, keepAwake.shown); // WebKit asks for one
  systemDark.addEventListener("change", applyLook);
  addEventListener("online", () => {
    outbox.hurry();
    crew.hurry();
  });
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
    if (isVisible()) drive?.update();
  }, TICK_MS);
  setInterval(checkClock, CLOCK_CHECK_MS);
  setInterval(() => {
    if (run && (run.recorder.failed() || photos?.waiting())) void retry(run.recorder);
  }, RETRY_MS);
}

const inMemoryOnly = () => Boolean(run?.recorder.failed() || run?.gps.state().unstored || photos?.waiting());

/** Whether the page goes into the browser's page cache, or comes from there. @param {Event} event */
const isCached = (event) => event instanceof PageTransitionEvent && event.persisted;

/** Out of the page cache: what waited is stored, then the page starts as it would anew. */
async function comeBack() {
  store.back();
  await run?.gps.flush();
  if (!inMemoryOnly()) location.reload();
}

/** @param {import("./records/types").Recorder} recorder */
async function retry(recorder) {
  await recorder.retry();
  await photos?.retry();
  if (!recorder.failed() && !photos?.waiting()) drive?.notice("stored", "All stored again.");
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
  guardTouches(window);
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
  crew = createCrew({
    request, device, run: () => run, onNews: tellNews,
    mayAsk: async ({ id }) => isVisible() && isReaching(outbox.state(id)) && (await store.session(id))?.revision != null,
    monoMs: () => performance.now(), wallMs: Date.now, random: Math.random,
    remember: (heard) => store.setMeta("crew", heard), remembered: () => store.meta("crew"),
  });
  listen();
  void watchPermission();
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
    onRefused: () => tell("Not while a recording is open on this phone, perhaps in another tab. End it first."),
    reload: () => location.reload(),
  }).catch(() => {
    // without a service worker (a private window, an untrusted certificate) it works online only
  });
}

/** A start that doesn't come says why; it may come yet. @param {string} why @param {string} remedy */
function notReady(why, remedy) {
  const again = h("button", { class: "key wide primary" }, h("span", {}, "Try again"));
  onTap(again, () => location.reload());
  show(h("main", { class: "page" }, h("h1", {}, "Not ready"),
    h("p", { role: "alert" }, `${why} Nothing can be recorded like this. ${remedy}`), again));
}

const slowStart = setTimeout(() => notReady("This phone's storage doesn't answer.",
  "Another page of Ebbline may hold it, even one that was left: close the browser's other tabs, or the whole browser, then try again."), SLOW_START_MS);

start().catch((error) => {
  const reason = error instanceof Error ? error.message : String(error);
  notReady(`This phone's storage could not be opened (${reason}).`, "Leave private mode, free some space, then try again.");
});
