// @ts-check
/*
 * A clock that can run ahead, and a receiver that gives ten fixes each of its seconds: so that four
 * hours of recording pass in minutes while the page does for each second what it would have done.
 */
(() => {
  if (location.protocol !== "http:") return;
  const real = {
    monoMs: performance.now.bind(performance), wallMs: Date.now.bind(Date),
    later: setTimeout.bind(globalThis),
  };
  let ahead_ms = 0;
  let given = 0;
  /** @type {Map<number, { run: () => void, at_ms: number, every_ms: number | null }>} */
  const timers = new Map();
  /** @type {PositionCallback | null} */
  let watcher = null;

  performance.now = () => real.monoMs() + ahead_ms;
  Date.now = () => real.wallMs() + ahead_ms;
  const plan = (/** @type {boolean} */ repeat) =>
    (/** @type {() => void} */ run, ms = 0) => {
      given += 1;
      timers.set(given, { run, at_ms: performance.now() + ms, every_ms: repeat ? ms : null });
      return given;
    };
  const forget = (/** @type {number} */ id) => void timers.delete(id);
  Object.assign(globalThis, {
    setTimeout: plan(false), setInterval: plan(true), clearTimeout: forget, clearInterval: forget,
  });

  function runDue() {
    for (const [id, timer] of [...timers].sort(([, a], [, b]) => a.at_ms - b.at_ms)) {
      if (timer.at_ms > performance.now() || !timers.has(id)) continue;
      if (timer.every_ms === null) timers.delete(id);
      else timer.at_ms = performance.now() + timer.every_ms;
      timer.run();
    }
  }
  const keepRunning = () => {
    runDue();
    real.later(keepRunning, 20);
  };
  keepRunning();

  navigator.geolocation.watchPosition = (callback) => {
    watcher = callback;
    return 1;
  };
  navigator.geolocation.clearWatch = () => {};

  let fixes = 0;
  /** @param {number} seconds */
  Object.assign(globalThis, {
    driveOn: async (/** @type {number} */ seconds) => {
      for (let s = 0; s < seconds; s += 1) {
        const until_ms = performance.now() + 1000;
        for (let tenth = 1; tenth <= 10; tenth += 1) {
          ahead_ms = Math.max(ahead_ms, until_ms - 1000 + tenth * 100 - real.monoMs());
          const angle = fixes / 3000; // a circle of 500 m at 16.7 m/s
          const coords = {
            latitude: 47 + 0.0045 * Math.sin(angle), longitude: 8 + 0.0066 * (1 - Math.cos(angle)),
            accuracy: 4, speed: 16.7, heading: ((angle * 180) / Math.PI) % 360,
            altitude: 400, altitudeAccuracy: 6,
          };
          fixes += 1;
          watcher?.(/** @type {any} */ ({ coords, timestamp: Date.now() }));
          runDue();
        }
        // the storage works in another process and in real time: let it finish this second's fixes
        for (let i = 0; i < 3; i += 1) await new Promise((done) => real.later(done, 0));
      }
      return fixes;
    },
  });
})();
