// @ts-check
/**
 * Units at the edge of the screen: SI comes in, the user's choice goes out. Pure but for
 * `loadUnits` and `saveUnits`, which take their storage.
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
export const METRES_PER_MILE = 1609.344;
/** Standard deviations to either side that hold 95 % of a normal. */
export const COVERAGE_95 = 1.96;
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
