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
import { createEventFilter } from "./evidence/event-filter.js";
import { createEventForm } from "./evidence/event-form.js";
import { openHabits } from "./evidence/habits.js";
import { createLadder } from "./evidence/ladder.js";
import { createReadingForm } from "./evidence/reading-form.js";
import { createReadingTable } from "./evidence/readings.js";
import { endingTable } from "./figures/ending.js";
import { headlineAnswers, question } from "./figures/headline.js";
import { lapSection } from "./figures/laps.js";
import { limitTable } from "./figures/limits.js";
import { createHistory } from "./history/history.js";
import { createHow } from "./how/how.js";
import { createBringIn } from "./importing/import.js";
import { el } from "./page/dom.js";
import { keepingFocus } from "./page/keep-focus.js";
import { createParts } from "./page/parts.js";
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

/** Parts that show nothing but what was worked out. */
const DERIVED = ["timeline", "limits", "ending", "recharge", "laps", "publish"];

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
  const filter = createEventFilter((group) => {
    timeline.filter(group);
    ladder.filter(group);
  });
  const card = createEventCard({
    onCorrect: (row) => model && eventForm.correct(row, clockOffsets(model.session)),
    onNote: (atMs) => eventForm.start("note", atMs),
  });
  const timeline = createTimeline(cursor, {
    onFlag(eventId) {
      const row = model?.events.find(({ record }) => record.id === eventId);
      if (row && model) card.show(row, model, units);
    },
    filter: filter("Events shown as flags and in the ladder"),
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
      parts.goTo("timeline");
    },
    section: (anchor) => parts.goTo(anchor),
    bringIn: () => parts.goTo("import"),
  });

  const heading = el("h1", {}, "\u00a0");
  const facts = el("p", { class: "session-facts" }, "\u00a0");
  const downloads = el("ul", { class: "downloads" }, ...[
    ["file", "Session file"], ["csv", "CSV"], ["gpx", "GPX"],
  ].map(([path, words]) => el("li", {}, el("a", { href: `/api/sessions/${encodeURIComponent(id)}/${path}`, download: true }, words ?? ""))));
  const headline = el("div", { class: "headline", role: "group", "aria-label": "Headline figures", onclick: follow }, ...placeholderAnswers());
  const shown = el("p", { class: "shown-line", hidden: true });
  const checks = el("div", { class: "checks" });
  const laps = el("div");
  const limits = el("div");
  const ending = el("div");

  /**
   * @param {string} anchor
   * @param {string} title
   * @param {...(Node)} children
   */
  const section = (anchor, title, ...children) => {
    const head = el("h2", { id: `${anchor}-title` }, title);
    return el("section", { id: anchor, "aria-labelledby": head.id }, head, ...children);
  };
  const parts = createParts([
    {
      anchor: "timeline", words: "The drive", content: [el("div", { class: "reading-desk" },
        section("timeline", "Timeline", timeline.element),
        el("div", { class: "side" }, section("map", "Track", map.element), card.element))],
    },
    {
      anchor: "ladder", words: "Warnings", content: [section("ladder", "Every event, and what was left",
        el("div", { class: "ladder-bar" }, filter("Events shown here and as flags on the drive")), el("div", { class: "ladder-layout" },
        ladder.element, el("div", {}, classOffer.element, eventForm.element)))],
    },
    { anchor: "limits", words: "Holding a speed", content: [section("limits", "What it still gave floored (full throttle)", el("div", { class: "limits-layout" }, limits, fade.element))] },
    { anchor: "ending", words: "Shut-off", content: [section("ending", "Shut-off and contactors", ending)] },
    { anchor: "recharge", words: "Recharge", content: [section("recharge", "Recharge", recharge.element)] },
    { anchor: "laps", words: "Balance and checks", content: [section("laps", "Laps and checks", el("div", { class: "laps-layout" }, checks, laps))] },
    {
      anchor: "photos", words: "Photos and readings", content: [
        section("photos", "Photos", photos.element),
        section("readings", "Readings", el("div", { class: "readings-layout" }, readings.element, readingForm.element)),
        section("import", "Import more", bringIn.element)],
    },
    { anchor: "choices", words: "Choices", content: [section("choices", "Choices", choices.element)] },
    {
      anchor: "history", words: "History and phones",
      content: [section("history", "History", history.element), section("phones", "Phones", phones.element)],
    },
    { anchor: "publish", words: "Publish", content: [section("publish", "Publish", publish.element)] },
  ], "Parts of this session");
  const content = el("div", { class: "session", "aria-busy": "true" },
    el("header", { class: "session-head", onclick: follow },
      el("div", {}, heading, facts, publish.flag),
      el("div", { class: "session-ways" }, downloads, el("a", { class: "button", href: "#publish" }, "Publish"))),
    headline, shown,
    section("doubts", "Doubts", doubts.element),
    el("div", { class: "pinned", onclick: follow }, parts.nav, readout.element),
    el("div", { onclick: follow }, parts.element));
  parts.nav.id = "parts";
  document.querySelector(".skip")?.after(...[["answer-far", "Skip to the answers"], ["doubts", "Skip to the doubts"], ["parts", "Skip to the parts"]]
    .map(([anchor, words]) => el("a", { class: "skip", href: `#${anchor}` }, words ?? "")));
  const trouble = el("div", { class: "trouble", role: "alert", hidden: true });
  const element = el("div", { class: "page-host" }, trouble, content);
  element.append(createHow(element));

  /** @param {MouseEvent} event */
  function follow(event) {
    parts.follow(event);
  }

  /** Room for what comes, so that nothing moves when it does. */
  function placeholderAnswers() {
    const cells = (/** @type {number} */ count, /** @type {number} */ main) => Array.from({ length: count }, (_, i) => el("div", { class: `headline-cell is-waiting${i < main ? " headline-main" : ""}` },
      el("dt", {}, "\u00a0"), el("dd", {}, el("span", { class: "figure" }, el("span", { class: "figure-value" }, "\u00a0"), el("span", { class: "figure-interval" }, "\u00a0"))),
      el("dd", { class: "source" }, "\u00a0")));
    return ["far", "warnings", "speed", "ending", "recharge", "balance"].map((name, i) => question(name, "", "\u00a0", i ? cells(2, 0) : cells(6, 2), ""));
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
    keepingFocus(headline, () => headline.replaceChildren(...headlineAnswers(early, units)));
    shown.textContent = shownLine(early, units);
    shown.hidden = shown.textContent === "";
    headline.hidden = readout.element.hidden = early.failed; // a row of unknowns would hide what failed
    for (const anchor of DERIVED) parts.drop(anchor, early.failed);
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
    const lapParts = lapSection(model, units, cursor);
    checks.replaceChildren(...lapParts.checks);
    keepingFocus(laps, () => laps.replaceChildren(lapParts.laps));
    limits.replaceChildren(limitTable(model, units, cursor));
    ending.replaceChildren(endingTable(model, units, cursor));
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
  void load(ahead).then(parts.asAddressed);
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
