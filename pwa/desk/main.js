// @ts-check
/** The desk: which page it is, and the switches that every page shares. */
import { UNIT_CHOICES, loadUnits, saveUnits } from "../shared/units.js";
import { el } from "./dom.js";
import { createSessionList } from "./session-list.js";
import { createSessionPage } from "./session-page.js";
import { currentTheme, setTheme } from "./theme.js";

let units = loadUnits(window.localStorage);
const id = new URLSearchParams(window.location.search).get("session");
/** @param {string} title */
const setTitle = (title) => void (document.title = `${title} \u00b7 Ebbline desk`);
const page = id ? createSessionPage(id, units, setTitle) : createSessionList(units);
if (!id) setTitle("Sessions");
const up = document.getElementById("up");
if (up) up.hidden = !id;

/**
 * @template {keyof typeof UNIT_CHOICES} K
 * @param {K} name
 * @param {string} words
 */
function unitSwitch(name, words) {
  const choice = el("select", {
    class: "quiet-select", "aria-label": words,
    onchange: () => {
      units = { ...units, [name]: choice.value };
      saveUnits(window.localStorage, units);
      page.setUnits(units);
    },
  }, ...UNIT_CHOICES[name].map((unit) => el("option", { value: unit, selected: unit === units[name] }, unit.replace("100km", "100 km"))));
  return choice;
}

const themeSwitch = el("button", {
  type: "button", class: "quiet theme-switch",
  onclick: () => {
    setTheme(currentTheme() === "night" ? "day" : "night");
    nameTheme();
    if ("retheme" in page) page.retheme();
  },
});
function nameTheme() {
  themeSwitch.textContent = currentTheme() === "night" ? "Day" : "Night";
  themeSwitch.setAttribute("aria-label", `Change to the ${currentTheme() === "night" ? "day" : "night"} theme`);
}
nameTheme();

document.getElementById("switches")?.replaceChildren(
  unitSwitch("distance", "Unit of distance"), unitSwitch("consumption", "Unit of consumption"),
  unitSwitch("temperature", "Unit of temperature"), themeSwitch);
document.getElementById("page")?.replaceChildren(page.element);
