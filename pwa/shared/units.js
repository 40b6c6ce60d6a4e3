// @ts-check
/**
 * Units at the edge of the screen: SI comes in, the user's choice goes out, with as many digits
 * as the interval allows. Pure but for `loadUnits` and `saveUnits`, which take their storage.
 *
 * Factors: international mile 1609.344 m (NIST SP 811, appendix B).
 */

/** @typedef {{ value: number, low: number, high: number }} Quantity  best estimate, 95 % interval */
/**
 * @typedef {object} Units
 * @property {"km" | "mi"} distance
 * @property {"kWh/100km" | "Wh/km" | "Wh/mi" | "mi/kWh" | "km/kWh"} consumption
 * @property {"°C" | "°F"} temperature
 */
/**
 * What a figure measures; the comment gives the SI unit that comes in.
 * @typedef {"distance"      // m
 *   | "speed"               // m/s
 *   | "energy"              // kWh
 *   | "power"               // kW
 *   | "duration"            // s
 *   | "consumption"         // Wh/km
 *   | "temperature"         // °C
 *   | "percent"             // %
 *   | "ratio"} Dimension    // 1
 */
/**
 * @typedef {object} Formatted
 * @property {string} value  the figure alone
 * @property {string} unit  may be empty
 * @property {string} interval  "6.38–6.47", or empty when there is none
 * @property {string} text  all of it: "6.42 km (6.38–6.47)"
 */

export const METRES_PER_MILE = 1609.344;
const KEY = "ebbline.units";

/** @type {Units} */
export const DEFAULT_UNITS = { distance: "km", consumption: "kWh/100km", temperature: "°C" };

/** @type {{ [K in keyof Units]: readonly Units[K][] }} */
export const UNIT_CHOICES = {
  distance: ["km", "mi"],
  consumption: ["kWh/100km", "Wh/km", "km/kWh", "Wh/mi", "mi/kWh"],
  temperature: ["°C", "°F"],
};

/**
 * The remembered choice; anything unknown or unreadable falls back to the default.
 * @param {Pick<Storage, "getItem">} storage
 * @returns {Units}
 */
export function loadUnits(storage) {
  /** @type {Record<string, unknown>} */
  let kept = {};
  try {
    kept = JSON.parse(storage.getItem(KEY) ?? "{}") ?? {};
  } catch {
    // storage may be blocked or hold something older than this code
  }
  /** @template {keyof Units} K @param {K} name @returns {Units[K]} */
  const pick = (name) =>
    UNIT_CHOICES[name].find((choice) => choice === kept[name]) ?? DEFAULT_UNITS[name];
  return {
    distance: pick("distance"),
    consumption: pick("consumption"),
    temperature: pick("temperature"),
  };
}

/**
 * Remember a choice. A storage that refuses costs the memory, not the page.
 * @param {Pick<Storage, "setItem">} storage
 * @param {Units} units
 */
export function saveUnits(storage, units) {
  try {
    storage.setItem(KEY, JSON.stringify(units));
  } catch {
    // private windows may refuse
  }
}

/**
 * One figure in the user's unit.
 * @param {Dimension} dimension
 * @param {number} value in the SI unit of the dimension
 * @param {Units} units
 * @returns {number}
 */
export function convert(dimension, value, units) {
  const perMile = METRES_PER_MILE / 1000;
  switch (dimension) {
    case "distance":
      return value / (units.distance === "mi" ? METRES_PER_MILE : 1000);
    case "speed":
      return (value * 3.6) / (units.distance === "mi" ? perMile : 1);
    case "consumption":
      switch (units.consumption) {
        case "kWh/100km": return value / 10;
        case "Wh/km": return value;
        case "Wh/mi": return value * perMile;
        case "km/kWh": return 1000 / value;
        case "mi/kWh": return 1000 / (value * perMile);
      }
    // every unit has returned by here
    case "temperature":
      return units.temperature === "°F" ? value * 1.8 + 32 : value;
    default:
      return value;
  }
}

/**
 * @param {Dimension} dimension
 * @param {Units} units
 * @returns {string} the unit's symbol; empty for durations and ratios, which carry their own
 */
export function unitOf(dimension, units) {
  switch (dimension) {
    case "distance": return units.distance;
    case "speed": return units.distance === "mi" ? "mph" : "km/h";
    case "energy": return "kWh";
    case "power": return "kW";
    case "consumption": return units.consumption.replace("100km", "100 km");
    case "temperature": return units.temperature;
    case "percent": return "%";
    default: return "";
  }
}

/** @type {Record<Dimension, number>} */
const PLAIN_DECIMALS = {
  distance: 2, speed: 1, energy: 2, power: 1, duration: 0,
  consumption: 1, temperature: 0, percent: 1, ratio: 3,
};

/**
 * Decimals that let the half-width of an interval show one digit, or two when the first is 1 or
 * 2 (JCGM 100:2008, 7.2.6: a stated uncertainty needs at most two digits).
 * @param {number} halfWidth in the unit shown
 * @param {number} otherwise when the interval has no width
 * @returns {number}
 */
export function decimalsFor(halfWidth, otherwise) {
  if (!(halfWidth > 0) || !Number.isFinite(halfWidth)) return otherwise;
  const exponent = Math.floor(Math.log10(halfWidth));
  const leading = Math.floor(halfWidth / 10 ** exponent);
  return Math.min(5, Math.max(0, (leading < 3 ? 1 : 0) - exponent));
}

/**
 * @param {number} value
 * @param {number} decimals
 * @returns {string} with a true minus and thin spaces between thousands; never "−0"
 */
export function formatNumber(value, decimals) {
  const digits = Math.abs(value).toFixed(decimals);
  const [whole = "", fraction] = digits.split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u2009") : whole;
  const sign = value < 0 && Number(digits) !== 0 ? "\u2212" : "";
  return sign + grouped + (fraction === undefined ? "" : `.${fraction}`);
}

/**
 * @param {number} seconds
 * @param {number} decimals of the second
 * @returns {string} "12:05" or "1:02:05"
 */
function formatClockLike(seconds, decimals) {
  const rounded = Number(Math.abs(seconds).toFixed(decimals));
  const hours = Math.floor(rounded / 3600);
  const minutes = Math.floor((rounded % 3600) / 60);
  const rest = (rounded % 60).toFixed(decimals).padStart(decimals ? decimals + 3 : 2, "0");
  const head = hours ? `${hours}:${String(minutes).padStart(2, "0")}` : String(minutes);
  return `${seconds < 0 && rounded > 0 ? "\u2212" : ""}${head}:${rest}`;
}

/**
 * A figure with its interval in the user's unit. Digits follow the interval; a reciprocal unit
 * (mi/kWh) swaps the ends.
 * @param {Dimension} dimension
 * @param {Quantity | null | undefined} quantity SI
 * @param {Units} units
 * @returns {Formatted | null} null when there is no figure
 */
export function formatQuantity(dimension, quantity, units) {
  if (!quantity) return null;
  const value = convert(dimension, quantity.value, units);
  const ends = [convert(dimension, quantity.low, units), convert(dimension, quantity.high, units)];
  const low = Math.min(...ends);
  const high = Math.max(...ends);
  const asClock = dimension === "duration" && Math.abs(quantity.value) >= 60;
  const decimals = decimalsFor(
    (high - low) / 2,
    dimension === "duration" && !asClock ? 1 : PLAIN_DECIMALS[dimension],
  );
  /** @param {number} x */
  const show = (x) =>
    asClock ? formatClockLike(x, high - low > 0 && high - low < 2 ? 1 : 0) : formatNumber(x, decimals);
  const unit =
    dimension !== "duration" ? unitOf(dimension, units)
      : !asClock ? "s"
        : Math.abs(quantity.value) >= 3600 ? "h:min:s" : "min:s";
  const interval =
    high > low ? `${show(low)}${low < 0 || high < 0 ? " to " : "\u2013"}${show(high)}` : "";
  const head = unit ? `${show(value)}\u00a0${unit}` : show(value);
  return {
    value: show(value),
    unit,
    interval,
    text: interval ? `${head} (${interval})` : head,
  };
}

/**
 * A figure without an interval.
 * @param {Dimension} dimension
 * @param {number | null | undefined} value SI
 * @param {Units} units
 * @param {number} [decimals]
 * @returns {string} "6.42 km", or an en dash when there is no figure
 */
export function formatPlain(dimension, value, units, decimals = PLAIN_DECIMALS[dimension]) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "\u2013";
  if (dimension === "duration") return formatClockLike(value, decimals);
  const unit = unitOf(dimension, units);
  const shown = formatNumber(convert(dimension, value, units), decimals);
  return unit ? `${shown}\u00a0${unit}` : shown;
}
