// @ts-check
/** One session's page: builds its parts once, then lets them follow the data, units and theme. */
import { loadD3 } from "./charts/d3-loader.js";
import { createEventCard } from "./charts/event-card.js";
import { createFade } from "./charts/fade.js";
import { createMap } from "./charts/map.js";
import { createReadout } from "./charts/readout.js";
import { createRecharge } from "./charts/recharge.js";
import { createTimeline } from "./charts/timeline.js";
import { createChoices } from "./choices/choices.js";
import { createDoubts } from "./doubts/doubts.js";
import { createClassOffer } from "./evidence/class-offer.js";
import { createEventForm } from "./evidence/event-form.js";
import { openHabits } from "./evidence/habits.js";
import { createLadder } from "./evidence/ladder.js";
import { createReadingForm } from "./evidence/reading-form.js";
import { createReadingTable } from "./evidence/readings.js";
import { headlineCells } from "./figures/headline.js";
import { lapSection } from "./figures/laps.js";
import { createHistory } from "./history/history.js";
import { createHow } from "./how/how.js";
import { createBringIn } from "./importing/import.js";
import { el } from "./page/dom.js";
import { createPhones } from "./phones/phones.js";
import { createPhotoStrip } from "./photos/photo-strip.js";
import { createPublish } from "./publish/publish.js";
import { askAhead } from "./session/ahead.js";
import { createCursor } from "./session/cursor.js";
import { everyPoint, loadModel } from "./session/model.js";
import { clockOffsets } from "./session/clock.js";
import { shownLine } from "./words/shown-words.js";

/** @typedef {import("./session/model.js").Model} Model */
/** @typedef {import("../shared/units.js").Units} Units */

/**
 * @param {string} id session
 * @param {Units} firstUnits
 * @param {(title: string) => void} onTitle
 * @param {import("./session/ahead.js").Ahead} ahead what was asked for already
 * @returns {{ element: HTMLElement, setUnits: (units: Units) => void, retheme: () => void }}
 */
export function createSessionPage(id, firstUnits, onTitle, ahead) {
  let units = firstUnits;
  /** @type {Model | null} */
  let model = null;
  const cursor = createCursor();
  const card = createEventCard({
    onCorrect: (row) => model && eventForm.correct(row, clockOffsets(model.session)),
    onNote: (atMs) => eventForm.start("note", atMs),
  });
  const timeline = createTimeline(cursor, {
    onFlag(eventId) {
      const row = model?.events.find(({ record }) => record.id === eventId);
      if (row && model) card.show(row, model, units);
    },
    onFilter: (group) => ladder.filter(group),
  });
  const readout = createReadout(cursor, timeline.socAt);
  const map = createMap(cursor);
  const recharge = createRecharge(cursor);
  const fade = createFade(cursor);
  const eventForm = createEventForm(cursor, reload);
  const readingForm = createReadingForm(cursor, reload);
  const ladder = createLadder(cursor, {
    onCorrect: (row) => model && eventForm.correct(row, clockOffsets(model.session)),
  });
  const classOffer = createClassOffer(reload);
  const readings = createReadingTable(cursor, { onCorrect: readingForm.correct });
  const photos = createPhotoStrip(cursor, reload);
  const choices = createChoices(cursor, { viewed: timeline.viewed, onKept: reload });
  const history = createHistory(reload, choices.leaveOut);
  const phones = createPhones(id);
  const bringIn = createBringIn(id, reload);
  const publish = createPublish(id);
  const doubts = createDoubts({
    correctEvent(eventId) {
      const row = model?.events.find(({ record }) => record.id === eventId);
      if (!row || !model) return;
      cursor.hold(row.atMs);
      eventForm.correct(row, clockOffsets(model.session));
    },
    correctReading(readingId) {
      const row = model?.readings.find(({ record }) => record.id === readingId);
      if (!row) return;
      cursor.hold(row.atMs);
      readingForm.correct(row);
    },
    addEvent: eventForm.start,
    addReading: readingForm.start,
    photos: () => photos.open(),
    choose: choices.focus,
    lookAt(fromMs, toMs) {
      timeline.lookAt(fromMs, toMs);
      cursor.hold((fromMs + toMs) / 2);
      goTo("timeline");
    },
    section: goTo,
    bringIn: () => document.getElementById("import") ? goTo("import") : window.location.assign("/desk"),
  });

  const heading = el("h1", {}, "\u00a0");
  const facts = el("p", { class: "session-facts" }, "\u00a0");
  const downloads = el("ul", { class: "downloads" }, ...[
    ["file", "Session file"], ["csv", "CSV"], ["gpx", "GPX"],
  ].map(([path, words]) => el("li", {}, el("a", { href: `/api/sessions/${encodeURIComponent(id)}/${path}`, download: true }, words ?? ""))));
  const headline = el("dl", { class: "headline", "aria-label": "Headline figures" }, ...placeholderCells());
  const shown = el("p", { class: "shown-line", hidden: true });
  const checks = el("div", { class: "checks" });
  const laps = el("div");

  /**
   * @param {string} anchor
   * @param {string} title
   * @param {...(Node)} children
   */
  const section = (anchor, title, ...children) => {
    const head = el("h2", { id: `${anchor}-title` }, title);
    return el("section", { id: anchor, "aria-labelledby": head.id }, head, ...children);
  };
  const parts = el("nav", { class: "parts", "aria-label": "Parts of this session" }, ...[
    ["doubts", "Doubts"], ["timeline", "Timeline"], ["ladder", "Events"], ["photos", "Photos"], ["readings", "Readings"], ["choices", "Choices"],
    ["laps", "Laps"], ["recharge", "Recharge"], ["history", "History"], ["phones", "Phones"], ["publish", "Publish"],
  ].map(([anchor, words]) => el("a", { href: `#${anchor}` }, words ?? "")));
  const derived = {
    timeline: el("div", { class: "reading-desk" },
      section("timeline", "Timeline", timeline.element),
      el("div", { class: "side" }, section("map", "Track", map.element), card.element)),
    laps: section("laps", "Laps and checks", el("div", { class: "laps-layout" }, checks, laps)),
    recharge: section("recharge", "Recharge", recharge.element),
    publish: section("publish", "Publish", publish.element),
  };
  const content = el("div", { class: "session", "aria-busy": "true" },
    el("header", { class: "session-head" },
      el("div", {}, heading, facts, publish.flag), downloads),
    headline, shown,
    section("doubts", "Doubts", doubts.element),
    el("div", { class: "pinned" }, parts, readout.element),
    derived.timeline,
    section("ladder", "Event ladder", ladder.element, classOffer.element, eventForm.element),
    section("photos", "Photos", photos.element),
    section("readings", "Readings", el("div", { class: "readings-layout" }, readings.element, readingForm.element)),
    section("choices", "Choices", choices.element),
    derived.laps,
    derived.recharge,
    section("history", "History", history.element),
    section("phones", "Phones", phones.element),
    section("import", "Import more", bringIn.element),
    derived.publish);
  const trouble = el("div", { class: "trouble", role: "alert", hidden: true });
  const element = el("div", { class: "page-host" }, trouble, content);
  element.append(createHow(element));

  /** @param {string} anchor take the reader there, keyboard and all */
  function goTo(anchor) {
    const target = document.getElementById(anchor);
    if (!target) return;
    target.scrollIntoView({ block: "start" });
    const head = target.querySelector("h2");
    head?.setAttribute("tabindex", "-1");
    head?.focus({ preventScroll: true });
  }

  function placeholderCells() {
    return Array.from({ length: 8 }, (_, i) => el("div", { class: `headline-cell is-waiting${i < 2 ? " headline-main" : ""}` },
      el("dt", {}, "\u00a0"), el("dd", {}, el("span", { class: "figure" }, el("span", { class: "figure-value" }, "\u00a0"), el("span", { class: "figure-interval" }, "\u00a0"))),
      el("dd", { class: "source" }, "\u00a0")));
  }

  /** @param {Omit<Model, "curves">} early the figures, with or without the curves behind them */
  function showFigures(early) {
    const { setup } = early.session;
    const title = setup.session?.title || setup.vehicle?.label || "Session without a name";
    heading.textContent = title;
    onTitle(title);
    const startMs = Date.parse(setup.session?.started_at ?? "");
    const { conditions, course } = setup;
    facts.replaceChildren(...[
      setup.session?.title ? setup.vehicle?.label : null,
      course?.label,
      Number.isNaN(startMs) ? null : `${early.clock.date(startMs)}, ${early.clock.time(startMs).slice(0, 5)}`,
      typeof conditions?.ambient_c === "number"
        ? (units.temperature === "°F" ? `${Math.round(conditions.ambient_c * 1.8 + 32)} °F` : `${conditions.ambient_c} °C`) : null,
      conditions?.surface,
      setup.vehicle?.software ? `software ${setup.vehicle.software}` : null,
      outcomeWords(early),
    ].filter((fact) => typeof fact === "string" && fact !== "").map((fact) => el("span", {}, fact ?? "")));
    headline.replaceChildren(...headlineCells(early, units));
    shown.textContent = shownLine(early, units);
    shown.hidden = shown.textContent === "";
    headline.hidden = readout.element.hidden = early.failed; // a row of unknowns would hide what failed
    for (const [anchor, part] of Object.entries(derived)) {
      part.hidden = early.failed;
      const way = parts.querySelector(`[href='#${anchor}']`);
      if (way instanceof HTMLElement) way.hidden = early.failed;
    }
    doubts.update(early, units);
  }

  function show() {
    if (!model) return;
    showCharts(model);
    showRest(model);
  }

  /** @param {Model} model what is looked at first */
  function showCharts(model) {
    showFigures(model);
    timeline.update(model, units);
    readout.update(model, units);
    map.update(model, units);
  }

  /** @param {Model} model what lies further down */
  function showRest(model) {
    openHabits(model);
    const lapParts = lapSection(model, units, cursor, fade.element);
    checks.replaceChildren(...lapParts.checks);
    laps.replaceChildren(lapParts.laps);
    ladder.update(model, units);
    classOffer.update(model);
    recharge.update(model, units);
    fade.update(model, units);
    readings.update(model);
    eventForm.update(model);
    readingForm.update(model);
    photos.update(model);
    choices.update(model, units);
    history.update(model);
    bringIn.update(model);
    publish.update(model, units);
    card.close();
    content.setAttribute("aria-busy", "false");
  }

  /**
   * Draw every fix once the first picture is there; without them the picture still is right.
   * @param {Model} first
   */
  async function refine(first) {
    const whole = await everyPoint(first).catch(() => null);
    if (model !== first) return;
    if (whole) {
      model = whole;
      timeline.update(whole, units);
      map.update(whole, units);
      readout.update(whole, units);
    }
    content.dataset.everyFix = "";
  }

  function reload() {
    return load(askAhead(id));
  }

  /** @param {import("./session/ahead.js").Ahead} asked */
  async function load(asked) {
    try {
      delete content.dataset.everyFix;
      const fetched = await loadModel(id, asked, showFigures);
      model = fetched;
      trouble.hidden = true;
      content.hidden = false;
      showCharts(fetched);
      await frameShown(); // hundreds of table rows would hold up the first picture
      if (model === fetched) showRest(fetched);
      void refine(fetched);
    } catch (error) {
      trouble.hidden = false;
      // with figures already on screen the trouble is told above them, not instead of them
      content.hidden = model === null;
      const words = error instanceof Error ? error.message : String(error);
      trouble.replaceChildren(
        el("h1", {}, model ? "The figures below are from before" : "This session can\u2019t be shown"),
        el("p", {}, words),
        el("p", {}, el("button", { type: "button", class: "primary", onclick: () => void reload() }, "Try again"), " ",
          el("a", { href: "/desk" }, "All sessions")));
      onTitle("Not shown");
    }
  }

  // the charts' library comes while the server works the figures out; a failure is told by the chart
  loadD3().catch(() => undefined);
  void phones.load();
  void load(ahead);
  return {
    element,
    setUnits(next) {
      units = next;
      show();
    },
    retheme() {
      timeline.draw();
      recharge.draw();
      fade.draw();
    },
  };
}

/** @returns {Promise<void>} once what was drawn is on the screen; soon, on a page nobody sees */
function frameShown() {
  return new Promise((resolve) => {
    requestAnimationFrame(() => setTimeout(resolve));
    setTimeout(resolve, 300);
  });
}

/**
 * @param {Omit<Model, "curves">} model
 * @returns {string}
 */
function outcomeWords(model) {
  const { reserve, zero } = model.result;
  if (model.failed) return "can\u2019t be worked out";
  if (reserve.shut_down_before_zero) return "shut down before zero";
  if (zero.basis === null) return "no zero on record";
  return reserve.ends_at ? "driven past zero to the end" : "driven past zero, end not on record";
}
