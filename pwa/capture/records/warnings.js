// @ts-check
/** What warnings said and how they were classed, as this phone remembers it and the server told. */
import { withNews } from "../../shared/warnings.js";

/** @typedef {import("../../shared/warnings.js").KnownWarning} KnownWarning */

const KEY = "warnings";
const MOST = 300;

/** @param {import("../storage/keeping").Store} store @returns {Promise<KnownWarning[]>} the latest first */
export const knownWarnings = async (store) => await store.meta(KEY) ?? [];

/** @param {import("../storage/keeping").Store} store @param {KnownWarning[]} news the latest first */
export const rememberWarnings = async (store, news) =>
  store.setMeta(KEY, withNews(await knownWarnings(store), news).slice(0, MOST));
