// @ts-check
/** What a file is taken for, by its name and the type the system gives it. */

/** @typedef {"session" | "gpx" | "csv" | "photo" | "other"} Kind */

/** @type {[RegExp, string][]} */
const PHOTOS = [[/\.jpe?g$/i, "image/jpeg"], [/\.png$/i, "image/png"], [/\.webp$/i, "image/webp"], [/\.hei[cf]$/i, "image/heic"]];

/** @param {File} file @returns {Kind} */
export function kindOf(file) {
  if (photoType(file)) return "photo";
  if (/\.(json|zip)$/i.test(file.name)) return "session";
  if (/\.gpx$/i.test(file.name) || /gpx|xml/.test(file.type)) return "gpx";
  if (/\.(csv|tsv|txt)$/i.test(file.name) || file.type === "text/csv") return "csv";
  return "other";
}

/** @param {File} file @returns {string | null} the media type a photo is sent as */
export function photoType(file) {
  return PHOTOS.find(([name, type]) => name.test(file.name) || file.type === type)?.[1] ?? null;
}

export const ACCEPTED = ".json,.zip,.gpx,.csv,.tsv,.txt,.jpg,.jpeg,.png,.webp,.heic,application/json,application/zip,application/gpx+xml,text/csv,image/jpeg,image/png,image/webp,image/heic";
