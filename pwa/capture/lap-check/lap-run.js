// @ts-check
/** A lap check as it runs: its page on top of a recording, and the lap that is kept at its end. */
import { COVERAGE_95 } from "../../shared/measures.js";
import { ApiError } from "../../shared/api.js";
import { rememberCourse } from "../setup/courses.js";
import { startLapCheck } from "./lap-check.js";
import { createLapCheckView } from "./view-lap-check.js";

const ASK_AGAIN_MS = 3000;

/** @param {import("./types").LapRunParts} parts */
export function createLapRun({ store, run, fixes, clock, request, isSynced, hurry, drawn, page }) {
  const { row, recorder } = run;
  const course = row.setup.course ?? {};
  const check = startLapCheck({ course, fixes, standing: recorder.standing });
  let asking = false;
  let asked_ms = -Infinity;

  /** @param {(course: Record<string, any>) => Record<string, any>} change */
  async function changeCourse(change) {
    const now = await store.changeSession(row.id, (held) => ({
      // a phone that came by a code keeps the change to itself: the desk's set-up is the desk's
      ...held, setup_unsent: held.token ? 0 : 1, setup: { ...held.setup, course: change(held.setup.course ?? {}) },
    }));
    row.setup = now.setup;
    await rememberCourse(store, now.setup.course);
    hurry();
  }

  const view = createLapCheckView({
    ...page, check, course: course.label ?? "the course", surveyed_m: course.surveyed_lap_m ?? null,
    async setLine(at_mono_ms) {
      const gate = check.setLine();
      if (!gate) return false;
      await recorder.tap("lap_mark", clock.stamp(at_mono_ms));
      await changeCourse((now) => ({ ...now, gate }));
      return true;
    },
    async keep() {
      const { mean, provisional } = check.figures();
      if (!mean) return;
      const checked_lap = {
        length_m: mean.length_m, sd_m: mean.half_m / COVERAGE_95, laps: mean.laps,
        checked_at: new Date(clock.stamp().t_ms).toISOString(), session_id: row.id,
        ...(provisional ? { provisional } : {}),
      };
      await changeCourse((now) => ({ ...now, checked_lap }));
      // the record says it where the set-up can't be changed
      await recorder.log(`Lap checked: ${mean.length_m.toFixed(1)} m`, "lap_check", { checked_lap });
    },
  });

  /** The measuring core's figures, as soon as it can have the same laps. */
  async function ask() {
    const now_ms = performance.now();
    if (asking || !isSynced() || now_ms - asked_ms < ASK_AGAIN_MS) return;
    const known = check.known(clock.stamp().t_ms);
    if (!check.wantsServer(known)) return;
    asking = true;
    asked_ms = now_ms;
    try {
      check.take(await request(`/sessions/${row.id}/result`, { token: row.token }), known);
      drawn();
    } catch (error) {
      // the phone's own figures stay, marked provisional
      if (error instanceof ApiError && error.status === 403) check.leaveToDesk();
    } finally {
      asking = false;
    }
  }

  return {
    view,
    ask: () => void ask(),
    add: check.add,
  };
}
