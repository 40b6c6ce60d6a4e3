// @ts-check
/** The car's route on a plane, drawn as SVG. The picture only ever grows, so it doesn't swim. */

/** @typedef {import("./poll.js").Live} Live */

const SVG = "http://www.w3.org/2000/svg";
const METRES_PER_DEGREE = 111_195; // of latitude; a picture needs no more
const LEAST_M = 200;
const EDGE = 60; // of 1000, on each side
const FRESH = 40; // points drawn as where it has just been

/** @param {SVGElement} svg */
export function createMap(svg) {
  /** @type {{ lat: number, lon: number } | null} */
  let origin = null;
  let box = { left: Infinity, right: -Infinity, top: Infinity, bottom: -Infinity };
  const [way, fresh, gate, car] = ["path", "path", "path", "circle"].map((tag) => document.createElementNS(SVG, tag));
  if (!way || !fresh || !gate || !car) throw new Error("no SVG here");
  way.setAttribute("class", "way");
  fresh.setAttribute("class", "way fresh");
  gate.setAttribute("class", "gate");
  car.setAttribute("class", "car");
  car.setAttribute("r", "30");
  car.setAttribute("visibility", "hidden"); // until it is known where
  svg.append(way, fresh, gate, car);

  /** @param {number} lat @param {number} lon @returns {[number, number]} metres, y downwards */
  function onPlane(lat, lon) {
    origin ??= { lat, lon };
    const east = (lon - origin.lon) * METRES_PER_DEGREE * Math.cos((origin.lat * Math.PI) / 180);
    return [east, (origin.lat - lat) * METRES_PER_DEGREE];
  }

  /** @param {[number, number][]} points */
  function widen(points) {
    for (const [x, y] of points) {
      box = {
        left: Math.min(box.left, x), right: Math.max(box.right, x),
        top: Math.min(box.top, y), bottom: Math.max(box.bottom, y),
      };
    }
  }

  /** @param {[number, number]} point @returns {string} */
  function onPicture([x, y]) {
    const span = Math.max(box.right - box.left, box.bottom - box.top, LEAST_M);
    const scale = (1000 - 2 * EDGE) / span;
    const shift = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
    return `${(500 + (x - (shift[0] ?? 0)) * scale).toFixed(1)} ${(500 + (y - (shift[1] ?? 0)) * scale).toFixed(1)}`;
  }

  /** @param {[number, number][]} points */
  const line = (points) => points.length ? `M${points.map(onPicture).join("L")}` : "";

  return {
    /** @param {Live} live */
    show({ trail, position, course }) {
      if (!position) {
        car.setAttribute("visibility", "hidden");
        return;
      }
      const points = trail.map(([lat, lon]) => onPlane(lat, lon));
      const here = onPlane(position.lat, position.lon);
      widen([...points, here]);
      way.setAttribute("d", line(points));
      fresh.setAttribute("d", line(points.slice(-FRESH)));
      const [cx = "0", cy = "0"] = onPicture(here).split(" ");
      car.setAttribute("cx", cx);
      car.setAttribute("cy", cy);
      car.setAttribute("visibility", "visible");
      gate.setAttribute("d", course.gate ? line(across(course.gate)) : "");
    },
  };

  /**
   * The gate's line: across the way that is driven through it.
   * @param {NonNullable<Live["course"]["gate"]>} found
   * @returns {[number, number][]}
   */
  function across({ lat, lon, heading_deg, half_width_m }) {
    const [x, y] = onPlane(lat, lon);
    const heading = (heading_deg * Math.PI) / 180;
    const [dx, dy] = [Math.cos(heading) * half_width_m, Math.sin(heading) * half_width_m];
    return [[x - dx, y - dy], [x + dx, y + dy]];
  }
}
