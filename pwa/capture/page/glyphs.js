// @ts-check
/** Our own pictograms, drawn as strokes on a 24 × 24 grid; found faster than words when it shakes. */

/** @type {Readonly<Record<string, string>>} by event kind and a few more */
const STROKES = {
  photo: "M4 7h4l2-3h4l2 3h4v12H4zM16 13a4 4 0 1 1-8 0 4 4 0 0 1 8 0z",
  warning: "M12 4 21.5 20h-19zM12 10v5M12 17.4v.2",
  soc_step: "M3 6h6v6h6v6h6",
  zero_soc: "M2 8h17v8H2zM22 11v2",
  zero_range: "M4 20 9 4M20 20 15 4M12 5v2M12 11v2M12 17v3",
  trip_reset: "M19 12a7 7 0 1 1-2.2-5.1M17.5 3v4h-4",
  floored: "M3 20h18M8 20l7-15 4 2-6 13",
  speed_capped: "M4 18a8 8 0 1 1 16 0M12 18l4.5-5.5M18 5l3 3",
  power_limited: "M4 4h16M12 8v12M7 15l5 5 5-5",
  propulsion_off: "M12 3v8M7.2 6.2a8 8 0 1 0 9.6 0",
  standstill: "M6 6h12v12H6z",
  hazards_on: "M12 3.5 22 20.5H2zM12 11l3.2 5.5H8.8z",
  contactors_open: "M2 14h5l9-7M17 14h5",
  contactors_closed: "M2 12h20M7 8v8M17 8v8",
  plug_in: "M9 3v5M15 3v5M6 8h12v4a6 6 0 0 1-12 0zM12 18v3",
  charge_start: "M13 3 6 13.5h5.5L10.5 21 18 10.5h-5.5z",
  charge_end: "M10 3 4 13h5l-1 8M16 8v8M20 8v8",
  comfort_cut: "M10 5a2 2 0 0 1 4 0v9a4 4 0 1 1-4 0zM12 9v8",
  assist_change: "M3 8h10M19 8h2M3 16h2M11 16h10M18 8a2 2 0 1 1-4 0 2 2 0 0 1 4 0zM10 16a2 2 0 1 1-4 0 2 2 0 0 1 4 0z",
  lap_mark: "M6 21V4h12l-3 4 3 4H6",
  film_sync: "M4 11h16v9H4zM4 11l15-6M9 9l2 2M14 7l2 2",
  note: "M4 20l1-5L16 4l4 4L9 19z",
};

const SVG = "http://www.w3.org/2000/svg";

/** @param {string} name @returns {SVGElement} decorative: the words beside it say the same */
export function glyph(name) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("class", "glyph");
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", STROKES[name] ?? "");
  svg.append(path);
  return svg;
}
