// @ts-check
/** The desk: which page it is, and the switches that every page shares. */
import { COMPANIONS, UNIT_CHOICES, loadUnits, saveUnits } from "../shared/units.js";
import { el } from "./page/dom.js";
import { currentTheme, setTheme } from "./page/theme.js";
import { askAhead } from "./session/ahead.js";

let units = loadUnits(window.localStorage);
const asked = new URLSearchParams(window.location.search);
const id = asked.get("session");
/** @param {string} title */
const setTitle = (title) => void (document.title = `${title} \u00b7 Ebbline desk`);
/** @type {{ element: HTMLElement, setUnits: (units: import("../shared/units.js").Units) => void, retheme?: () => void } | null} */
let page = null;
const up = document.getElementById("up");
if (up) up.hidden = !["session", "campaign", "campaigns", "compare"].some((name) => asked.has(name));

/**
 * @template {keyof typeof UNIT_CHOICES} K
 * @param {K} name
 * @param {string} words
 */
function unitSwitch(name, words) {
  const choice = el("select", {
    class: "quiet-select", "aria-label": words,
    onchange: () => {
      units = { ...units, ...(name === "distance" ? COMPANIONS[/** @type {"km" | "mi"} */ (choice.value)] : { [name]: choice.value }) };
      for (const [each, choice] of Object.entries(choices)) choice.value = units[/** @type {keyof typeof units} */ (each)];
      saveUnits(window.localStorage, units);
      page?.setUnits(units);
    },
  }, ...UNIT_CHOICES[name].map((unit) => el("option", { value: unit, selected: unit === units[name] }, unit.replace("100km", "100 km"))));
  return choice;
}

const themeSwitch = el("button", {
  type: "button", class: "quiet theme-switch",
  onclick: () => {
    setTheme(currentTheme() === "night" ? "day" : "night");
    nameTheme();
    page?.retheme?.();
  },
});
function nameTheme() {
  themeSwitch.textContent = currentTheme() === "night" ? "Day" : "Night";
  themeSwitch.setAttribute("aria-label", `Change to the ${currentTheme() === "night" ? "day" : "night"} theme`);
}
nameTheme();

const choices = {
  distance: unitSwitch("distance", "Unit of distance"), consumption: unitSwitch("consumption", "Unit of consumption"),
  temperature: unitSwitch("temperature", "Unit of temperature"),
};
document.getElementById("switches")?.replaceChildren(...Object.values(choices), themeSwitch);

async function open() {
  if (id) {
    const ahead = askAhead(id); // the server works while the page's modules come
    page = (await import("./session-page.js")).createSessionPage(id, units, setTitle, ahead);
  } else if (asked.get("campaign")) {
    page = (await import("./campaign-page.js")).createCampaignPage(asked.get("campaign") ?? "", units, setTitle);
  } else if (asked.has("campaigns")) {
    page = (await import("./campaigns-page.js")).createCampaignsPage(setTitle);
  } else if (asked.has("compare")) {
    page = (await import("./pair-page.js")).createPairPage(asked.get("compare"), asked.get("with"), units, setTitle);
  } else {
    setTitle("Sessions");
    page = (await import("./session-list.js")).createSessionList(units);
  }
  document.getElementById("page")?.replaceChildren(page.element);
}
void open();
