// @ts-check
/** The follow page: read-only, for the chase vehicle and the desk. */
import { createKeepAwake } from "../shared/keep-awake.js";
import { formatPlain, formatQuantity, loadUnits, saveUnits } from "../shared/units.js";
import { asReported } from "../shared/rules.js";
import { EVENTS, eventWords } from "../shared/vocabulary.js";
import { createAlarm, createSound } from "./alarm.js";
import { createMap } from "./map.js";
import { follow } from "./poll.js";
import { takeTicket } from "./ticket.js";

/** @typedef {import("./poll.js").Live} Live */

const LOST_AFTER_MS = 4000;
const OLD_POSITION_MS = 10_000;
const MOST_HOURS = 36; // beyond that a date says more

/** @param {string} id */
const part = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
let units = loadUnits(localStorage);
/** @type {Live | null} */
let live = null;
let answered_ms = -Infinity; // by performance.now()
let server_ahead_ms = 0; // server's clock less performance.now()
let started = false;

const sound = createSound({ Audio: window.AudioContext, storage: localStorage });
const alarm = createAlarm(part("alarm"), sound.play);
const isVisible = () => document.visibilityState === "visible";
const keepAwake = createKeepAwake({ navigator, isVisible, onChange() {} });
const map = createMap(/** @type {SVGElement} */ (/** @type {unknown} */ (part("map"))));

/** @param {HTMLElement} element @param {string} text only where it differs */
function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** @param {number} ms */
function ago(ms) {
  const seconds = Math.max(0, Math.round(ms / 1000));
  if (seconds < 2) return "just now";
  if (seconds < 90) return `${seconds} s ago`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min ago`;
  if (seconds < MOST_HOURS * 3600) return `${Math.round(seconds / 3600)} h ago`;
  return `on ${new Date(Date.now() - ms).toLocaleDateString("en-GB", { dateStyle: "medium" })}`;
}

/** @param {string} id @param {"distance" | "energy"} dimension @param {Live["past_zero_m"]} quantity */
function figure(id, dimension, quantity) {
  const shown = formatQuantity(dimension, quantity, units);
  const [value, unit] = part(id).children;
  say(/** @type {HTMLElement} */ (value), shown?.value ?? "\u2013");
  say(/** @type {HTMLElement} */ (unit), shown?.unit ?? "");
  say(part(`${id}-interval`), shown?.interval ?? "\u00a0");
}

/** @param {"zero_soc" | "zero_range" | "moment"} basis */
function zeroWords(basis) {
  if (basis === "moment") return "the chosen moment";
  return EVENTS[basis]?.short?.replace(" ", "\u00a0") ?? "zero";
}

function show() {
  if (!live) return;
  say(part("vehicle"), live.vehicle_label || live.course.label || "Following");
  say(part("basis"), live.zero ? `Past ${zeroWords(live.zero.basis)}, ` : "Past zero, ");
  figure("distance", "distance", live.past_zero_m);
  figure("energy", "energy", live.energy_past_zero_kwh);
  const event = live.last_event && asReported(live.last_event);
  if (event) {
    say(part("event"), eventWords(event));
  }
  map.show(live);
  const words = alarm.show(live.alerts);
  document.title = words ? `${words} \u2013 Ebbline` : "Ebbline: follow";
  tick();
}

function tick() {
  const now_ms = performance.now();
  const server_ms = now_ms + server_ahead_ms;
  const contact = part("contact");
  if (!started) return;
  const silent_ms = now_ms - answered_ms;
  const lost = silent_ms > LOST_AFTER_MS;
  contact.dataset.state = live === null ? "waiting" : lost ? "lost" : "live";
  if (live === null) say(contact, lost ? "No answer yet, asking again" : "Waiting for the first answer");
  else say(contact, lost ? `No contact for ${Math.round(silent_ms / 1000)} s` : "In contact");
  if (!live) return;
  if (live.last_event) say(part("event-age"), ago(server_ms - live.last_event.t_ms));
  const last = live.alerts.at(-1);
  if (last) alarm.age(ago(server_ms - last.t_ms));
  if (live.position) {
    const age_ms = server_ms - live.position.t_ms;
    const speed = formatPlain("speed", live.position.speed_mps, units, 0);
    say(part("position"), age_ms > OLD_POSITION_MS ? `Was here ${ago(age_ms)}` : live.position.speed_mps === null ? "Here now" : `Here now, ${speed}`);
  }
}

/** @param {string} message @param {string} reason */
function shut(message, reason) {
  started = false;
  const contact = part("contact");
  contact.dataset.state = "lost";
  say(contact, message);
  if (reason !== "sign_in") return;
  const link = document.createElement("a");
  link.href = `/sign-in#/follow${location.hash}`;
  link.textContent = "Sign in";
  contact.append(" ", link);
}

function switches() {
  const [soundButton, themeButton, unitsButton] = [part("sound"), part("theme"), part("units")];
  const root = document.documentElement;
  const label = () => {
    soundButton.setAttribute("aria-pressed", String(sound.isOn()));
    say(soundButton, sound.isOn() ? "Sound is on" : sound.wanted() ? "Sound is off: touch for it" : "Sound is off");
    say(themeButton, root.dataset.theme === "night" ? "Day" : "Night");
    say(unitsButton, units.distance === "km" ? "mi" : "km");
  };
  soundButton.addEventListener("click", () => {
    sound.toggle();
    label();
  });
  themeButton.addEventListener("click", () => {
    const theme = root.dataset.theme === "night" ? "day" : "night";
    root.dataset.theme = theme;
    try {
      localStorage.setItem("ebbline.theme", theme);
    } catch {
      // it changes all the same
    }
    label();
  });
  unitsButton.addEventListener("click", () => {
    units = { ...units, distance: units.distance === "km" ? "mi" : "km" };
    saveUnits(localStorage, units);
    label();
    show();
  });
  label();
}

function start() {
  switches();
  const ticket = takeTicket(location, history, localStorage);
  if (!ticket) {
    shut("Scan the code at the desk to follow a run.", "");
    return;
  }
  started = true;
  answered_ms = performance.now();
  const poll = follow(ticket, {
    news(told) {
      server_ahead_ms = told.server_ms - performance.now();
      live = told;
      show();
    },
    answer() {
      answered_ms = performance.now();
      tick();
    },
    shut,
  });
  setInterval(tick, 1000);
  addEventListener("online", poll.hurry);
  addEventListener("hashchange", () => location.reload());
  document.addEventListener("visibilitychange", () => {
    if (!isVisible()) return;
    poll.hurry();
    keepAwake.shown();
  });
  for (const touch of ["pointerup", "keydown"]) addEventListener(touch, keepAwake.shown); // WebKit asks for one
  keepAwake.start();
}

start();
