// @ts-check
/** The courses this phone has been on: survey, start line and checked lap, offered again. */

/** @typedef {import("./types").Course} Course */
/** @typedef {import("./types").Courses} Courses */

const KEY = "courses";

/** @param {import("../storage/keeping").Store} store @returns {Promise<Courses>} */
export const knownCourses = async (store) => await store.meta(KEY) ?? {};

/**
 * Remember what is known of a course; what is not known leaves what was.
 * @param {import("../storage/keeping").Store} store @param {Partial<Course> | undefined} course
 */
export async function rememberCourse(store, course) {
  const label = course?.label?.trim();
  if (!course || !label) return;
  const courses = await knownCourses(store);
  const { surveyed_lap_m, surveyed_lap_sd_m, gate, checked_lap } = course;
  const news = { surveyed_lap_m, surveyed_lap_sd_m, gate, checked_lap };
  const known = Object.fromEntries(Object.entries(news).filter(([, x]) => x !== null && x !== undefined));
  await store.setMeta(KEY, { ...courses, [label]: { ...courses[label], label, ...known } });
}

/** @param {import("./types").CheckedLap} lap @returns {string} in words */
export function checkedLapWords({ length_m, sd_m, laps, checked_at, provisional }) {
  const day = new Date(checked_at).toLocaleDateString(undefined, { day: "numeric", month: "short", year: "numeric" });
  const count = laps === 1 ? "1 lap" : `${laps} laps`;
  return `${length_m.toFixed(1)} ± ${(1.96 * sd_m).toFixed(1)} m, ${count}, ${day}${provisional ? ", provisional" : ""}`;
}
