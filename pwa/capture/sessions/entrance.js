// @ts-check
/** The pages before a recording: sessions, set-up and checklist, and the way from one to the next. */
import { showSheet } from "../page/sheet.js";
import { action } from "../page/view-settings.js";
import { rememberWarnings } from "../records/warnings.js";
import { unsentWords } from "../records/words.js";
import { knownCars, rememberCars } from "../setup/cars.js";
import { openChecklistLog } from "../setup/checklist.js";
import { knownCourses, rememberCourse } from "../setup/courses.js";
import { aboutSetup, editSetup, makeSetup, purposeOf, startingValues, valuesOf, withDevice } from "../setup/setup.js";
import { gateLines, missing } from "../setup/start-gate.js";
import { createChecklistView } from "../setup/view-checklist.js";
import { createGate } from "../setup/view-gate.js";
import { createSetupView } from "../setup/view-setup.js";
import { createSessionsView } from "./view-sessions.js";

/** @param {import("./types").EntranceParts} parts */
export function createEntrance({
  store, request, clock, newId, device, units, geolocation, timeZone, newVersion, show, tell, changed, sendSoon, sendNow,
  openMenu, openRun, openLog, exportFile, keepAwake, askToKeep,
}) {
  /** the checklist's, while it is shown */
  let phoneChanged = () => {};
  let lookAgain = () => {};

  /** the first page's, while it is shown */
  let unsentChanged = async () => {};

  /** @returns {Promise<import("./types").SessionCard[]>} */
  async function cards() {
    const rows = await store.sessions();
    return Promise.all(rows.map(async (row) => {
      const counts = await store.counts(row.id);
      const { records, chunks, drafts, refused, photos } = counts;
      const unsent = records + drafts + photos + chunks + row.setup_unsent;
      const words = unsentWords(counts);
      return {
        id: row.id,
        title: String(row.setup.session?.title ?? "Untitled"),
        about: aboutSetup(row.setup),
        state: refused ? `${refused} refused by the server, kept here`
          : unsent ? `Not sent yet: ${words === "nothing" ? "the plan" : words}. It goes by itself once there is a network.`
            : "all on the server",
        tone: /** @type {"good" | "doubt" | "bad"} */ (refused ? "bad" : unsent ? "doubt" : "good"),
      };
    }));
  }

  async function openSessions() {
    const rows = await store.sessions();
    const view = createSessionsView({
      onPhone: await cards(),
      sendNow,
      create: () => void openSetup("run"),
      checkLap: () => void openSetup("lap_check"),
      open: ({ id, title }) => rows.find((row) => row.id === id)?.accepted ? offerLog(id, title) : void openChecklist(id),
      exportFile: (id) => void exportFile(id),
      openMenu,
    });
    show(view.element);
    unsentChanged = async () => {
      if (view.element.isConnected) view.showStates(await cards());
    };
    const use = newVersion();
    if (use) view.offerVersion(use);
    try {
      const { sessions } = await request("/sessions");
      const held = new Set(rows.map((row) => row.id));
      view.showRemote(
        sessions.filter((/** @type {any} */ one) => !held.has(one.id)).map((/** @type {any} */ one) => ({
          id: one.id, title: one.title ?? "Untitled",
          about: [one.vehicle_label, one.course_label].filter(Boolean).join(" · "),
        })),
        (id) => void pickRemote(id));
      const { cars, warnings } = await request("/known");
      await rememberCars(store, cars);
      await rememberWarnings(store, warnings);
    } catch {
      // no server in reach: sessions of this phone are what there is
    }
  }

  /** It was driven: what is wanted of it now is rarely another drive. @param {string} id @param {string} title */
  function offerLog(id, title) {
    showSheet(title, [
      action("Log", "what was recorded", () => void openLog(id)),
      action("Go on recording", "the cautions first", () => void openChecklist(id)),
    ]);
  }

  /** @param {import("../setup/setup.js").Purpose} purpose */
  async function openSetup(purpose) {
    const last = await store.meta("last_setup") ?? null;
    const [courses, cars] = [await knownCourses(store), await knownCars(store)];
    show(createSetupView(startingValues(last, cars, new Date(), purpose), {
      heading: purpose === "lap_check" ? "Lap check" : "Plan",
      next: "On to the checklist", purpose, courses, cars, units: units(),
      back: () => void openSessions(),
      async save(values) {
        const id = newId();
        const setup = makeSetup(values, {
          id, device: device(), now: new Date(), timeZone, purpose, courses,
        });
        try {
          await store.setMeta("last_setup", values);
          await rememberCourse(store, setup.course);
          await addSession(id, setup, null, null);
        } catch (error) {
          return tell(`The session could not be stored: ${error instanceof Error ? error.message : error}`);
        }
        await openChecklist(id);
      },
    }));
  }

  /**
   * Change a set-up that exists; every version of it is kept.
   * @param {string} id @param {() => void} back
   */
  async function openEdit(id, back) {
    const row = await store.session(id);
    if (!row) return openSessions();
    if (row.token) return tell("This session came by a code: its plan is changed at the desk.");
    const [courses, cars] = [await knownCourses(store), await knownCars(store)];
    show(createSetupView(valuesOf(row.setup), {
      heading: "Plan", next: "Keep the changes", purpose: purposeOf(row.setup), courses, cars, units: units(), back,
      async save(values) {
        try {
          const now = await store.changeSession(id, (held) =>
            ({ ...held, setup: editSetup(held.setup, values, courses), setup_unsent: 1 }));
          await store.setMeta("last_setup", values);
          await rememberCourse(store, now.setup.course);
          changed(id, now.setup);
        } catch (error) {
          return tell(`The changes could not be stored: ${error instanceof Error ? error.message : error}`);
        }
        sendSoon();
        back();
      },
    }));
  }

  /**
   * @param {string} id @param {Record<string, any>} setup
   * @param {Record<string, any> | null} base_setup @param {number | null} revision
   */
  const addSession = (id, setup, base_setup, revision) => store.addSession({
    id, setup, base_setup, revision, setup_unsent: setup === base_setup ? 0 : 1,
    created_ms: Date.now(), accepted: false,
  });

  /** @param {string} id */
  async function pickRemote(id) {
    try {
      const { setup, revision } = await request(`/sessions/${id}`);
      await addSession(id, withDevice(setup, device()), setup, revision);
      await rememberCourse(store, setup.course);
      await openChecklist(id);
    } catch (error) {
      tell(`The session could not be fetched: ${error instanceof Error ? error.message : error}`);
    }
  }

  /** @param {string} id */
  async function openChecklist(id) {
    const row = await store.session(id);
    if (!row) return openSessions();
    /** @type {GeolocationPosition | null} */
    let here = null;
    let denied = !geolocation;
    /** @type {boolean | null} */
    let kept = null;
    const gate = createGate(() => lookAgain());
    const lines = () => gateLines({ denied, accuracy_m: here?.coords.accuracy ?? null, kept, wake: keepAwake.state() });
    phoneChanged = () => gate.show(lines());
    /** @type {number | undefined} */
    let watch;
    const stopLooking = () => {
      if (watch !== undefined) geolocation?.clearWatch(watch);
    };
    lookAgain = () => {
      stopLooking();
      watch = geolocation?.watchPosition((position) => {
        here = position;
        denied = false;
        phoneChanged();
      }, ({ code, PERMISSION_DENIED }) => {
        denied = code === PERMISSION_DENIED;
        phoneChanged();
      }, { enableHighAccuracy: true });
    };
    lookAgain();
    keepAwake.start();
    void askToKeep().then((now) => {
      kept = now.kept;
      phoneChanged();
    });
    /** @param {boolean} [starts] */
    const leave = (starts = false) => {
      stopLooking();
      phoneChanged = lookAgain = () => {};
      if (!starts) keepAwake.stop();
    };
    phoneChanged();
    const log = await openChecklistLog({
      store, session: id, device: device(), newId, stamp: () => clock.stamp(), here: () => here, onChange: sendSoon,
    });
    show(createChecklistView({
      title: row.setup.session?.title ?? "", about: aboutSetup(row.setup),
      lapCheck: purposeOf(row.setup) === "lap_check",
      ticked: log.ticked(), tick: log.tick, gate,
      edit() {
        leave();
        void openEdit(id, () => void openChecklist(id));
      },
      back() {
        leave();
        void openSessions();
      },
      async start(purpose) {
        const without = missing(lines());
        leave(true);
        if (without) await log.startedWithout(without, lines());
        await store.changeSession(id, (now) => ({ ...now, accepted: true }));
        await store.setMeta("running_as", purpose);
        await store.setMeta("running", id);
        await openRun(id, true);
      },
    }));
  }

  return { openSessions, openEdit, openChecklist, phoneChanged: () => phoneChanged(), positionChanged: () => lookAgain(), unsentChanged: () => void unsentChanged() };
}
