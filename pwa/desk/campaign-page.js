// @ts-check
/** A campaign's page: many sessions, one answer, in the order in which an audience asks. */
import { request } from "../shared/api.js";
import { formatNumber, formatPlain } from "../shared/units.js";
import { zeroName, eventName } from "../shared/vocabulary.js";
import { createCarTable } from "./campaign/car-table.js";
import { createDefinitionForm } from "./campaign/definition-form.js";
import { createDeletion } from "./campaign/deletion.js";
import { createDotsPlot } from "./campaign/dots-plot.js";
import { fadeLine, rechargeLine } from "./campaign/curves.js";
import { createLadderPlot } from "./campaign/ladder-plot.js";
import { createLinesPlot } from "./campaign/lines-plot.js";
import { car, courseOf, each, loadModel, loadNames, loadResults, workOut } from "./campaign/model.js";
import { PICTURE_WIDTH, saveReport } from "./campaign/report.js";
import { createReservePlot } from "./campaign/reserve-plot.js";
import { VERDICTS, statement } from "./campaign/statement.js";
import { influenceTable, leftOutList, repeatsTable, trustTable } from "./campaign/tables.js";
import { day, selectionWords } from "./campaign/words.js";
import { el } from "./page/dom.js";
import { createFocus } from "./plots/focus.js";
import { fileName, saveAs } from "./page/files.js";
import { createPublished } from "./publish/published.js";

/** @typedef {import("./campaign/model.js").Model} Model */
/** @typedef {import("../shared/units.js").Units} Units */

/**
 * @param {string} id campaign
 * @param {Units} firstUnits
 * @param {(title: string) => void} onTitle
 */
export function createCampaignPage(id, firstUnits, onTitle) {
  let units = firstUnits;
  /** @type {Model | null} */
  let model = null;
  /** @type {import("./campaign/lines-plot.js").Line[]} */
  let recharges = [];
  /** @type {Promise<void> | null} */
  let curvesAsked = null;
  const focus = createFocus();
  const whose = () => model?.campaign.name ?? "";
  const reserve = createReservePlot(focus, whose);
  const cars = createCarTable(focus, whose);
  const dots = createDotsPlot(focus, whose);
  const ladders = createLadderPlot(focus, whose);
  const fade = createLinesPlot({ name: "fade", title: "Power when floored, over energy past zero", note: "Floored is full throttle; points are the stretches it was measured on, bars 95 % intervals, each line one session by its tag in the table of cars.", focus, whose });
  const recharge = createLinesPlot({ name: "recharge", title: "Power on the charger", note: "From plug-in on, each line one session by its tag in the table of cars.", focus, whose });
  const plots = [reserve, dots, ladders, fade, recharge];
  const definition = createDefinitionForm(() => void load());
  const published = createPublished(`/campaigns/${encodeURIComponent(id)}`, "campaign", (/** @type {import("./publish/offer").PublishedCampaign} */ { answer: said }) =>
    `${VERDICTS[said.verdict]}. ${said.statement} ${said.sessions === 1 ? "1 session" : `${said.sessions} sessions`} compared, ${said.left_out} left out.`);

  const heading = el("h1", {}, "\u00a0");
  const factsLine = el("p", { class: "session-facts" }, "\u00a0");
  const answer = el("div", { class: "answer" }, el("p", { class: "verdict-line row-waiting" }, "\u00a0"), el("p", { class: "statement row-waiting" }, "\u00a0"));
  const hosts = { trust: el("div"), repeats: el("div"), influences: el("div"), leftOut: el("div") };
  const doubts = el("p", { class: "doubts-here" }, "\u00a0");
  const paper = el("a", { class: "quiet", download: true }, "Save the report (PDF)");
  const tools = el("div", { class: "downloads" },
    paper, el("button", { type: "button", class: "quiet", onclick: () => void report() }, "Save the report (HTML)"),
    el("button", { type: "button", class: "quiet", onclick: () => model && saveAs(`${fileName(whose(), "comparison")}.json`, JSON.stringify(model.comparison, null, 1), "application/json") }, "Save the comparison (JSON)"),
    el("a", { class: "quiet", href: `/api/campaigns/${encodeURIComponent(id)}/package`, download: true }, "Save the data package (ZIP)"),
    el("a", { class: "quiet", href: `/api/campaigns/${encodeURIComponent(id)}/package?with_sessions=true`, download: true, title: "They hold positions: whoever has the package can recompute everything, and sees where you drove." }, "The same with the session files"));

  /** @param {string} anchor @param {string} title @param {string} lead @param {...Node} children */
  const section = (anchor, title, lead, ...children) => {
    const head = el("h2", { id: `${anchor}-title` }, title);
    return el("section", { id: anchor, "aria-labelledby": head.id }, head, lead ? el("p", { class: "lead" }, lead) : null, ...children);
  };
  const parts = el("nav", { class: "parts", "aria-label": "Parts of this campaign" }, ...[
    ["answer", "Answer"], ["cars", "Cars"], ["ladders", "Warnings and ladders"], ["fade", "Fade"], ["recharge", "Recharge"],
    ["repeats", "Repeats"], ["influences", "Influences"], ["left-out", "Left out"], ["record", "Published"], ["definition", "Definition"],
  ].map(([anchor, words]) => el("a", { href: `#${anchor}` }, words ?? "")));
  const content = el("div", { class: "campaign", "aria-busy": "true" },
    el("header", { class: "session-head" }, el("div", {}, heading, factsLine, published.flag), tools),
    el("div", { class: "campaign-parts" }, parts),
    section("answer", "How much is left, and what it depends on", "", el("div", { class: "answer-layout" }, answer, reserve.element)),
    section("cars", "Car by car", "", dots.element, cars.element, doubts),
    section("ladders", "How far a warning can be trusted", "What was left at the first warning of each class; of a car driven again, the least counts.", hosts.trust, ladders.element),
    section("fade", "How power fades", "", fade.element),
    section("recharge", "Waking up on the charger", "", recharge.element),
    section("repeats", "Does a car agree with itself", "The later drive less the first; apart means by more than both 95 % intervals allow.", hosts.repeats),
    section("influences", "What else the reserve goes with", "Each by itself among cars with equal packs. Shown, never adjusted for: what goes together need not be cause and effect, and of twenty tried one looks clear by chance.", hosts.influences),
    section("left-out", "What is left out, and why", "", hosts.leftOut),
    section("record", "What was published", "", published.element),
    section("definition", "How it is defined", "Every figure on this page counts from this zero to this end.", definition.element, createDeletion(() => model?.campaign ?? null, published.lastPublished)));
  const trouble = el("div", { class: "trouble", role: "alert", hidden: true });
  const progress = el("p", { class: "hint pending", role: "status" });
  const element = el("div", { class: "page-host" }, trouble, content);
  content.firstElementChild?.after(progress);

  function show() {
    if (!model) return;
    const { campaign, comparison, rows } = model;
    heading.textContent = campaign.name;
    paper.href = `/api/campaigns/${encodeURIComponent(id)}/report?${new URLSearchParams({ units: units.distance, consumption: units.consumption, temperature: units.temperature })}`;
    onTitle(campaign.name);
    const carCount = new Set(rows.map((row) => row.repeat_of ?? row.session_id)).size;
    const others = comparison.left_out.length - campaign.left_out.length;
    factsLine.replaceChildren(...[
      ...selectionWords(campaign), others > 0 && `${others} can\u2019t be compared`, rows.length > 0 && (carCount === 1 ? "1 car" : `${formatNumber(carCount, 0)} cars`),
      comparison.zero_basis && `from \u201c${zeroName(comparison.zero_basis)}\u201d`, comparison.reserve_end && `to \u201c${eventName(comparison.reserve_end)}\u201d`,
      campaign.tested_by && `tested by ${campaign.tested_by}`, campaign.notes,
    ].filter(Boolean).map((words) => el("span", {}, String(words))));
    answer.replaceChildren(...(campaign.session_ids.length === 0
      ? [el("p", { class: "verdict-line" }, "Nothing to compare yet"), el("p", { class: "statement" }, "This campaign has no sessions. Pick some in the "), el("p", {}, el("a", { href: "/desk" }, "list of sessions"))]
      : statement(model, units)));
    reserve.update(model, units);
    dots.update(model, units);
    cars.update(rows, units);
    hosts.trust.replaceChildren(...trustTable(model, units));
    hosts.repeats.replaceChildren(...repeatsTable(model, units));
    hosts.influences.replaceChildren(...influenceTable(model, units));
    hosts.leftOut.replaceChildren(...leftOutList(model));
    showResults();
  }

  /** What comes of each session's own result. */
  function showResults() {
    if (!model) return;
    const { comparison, rows, results } = model;
    const told = rows.flatMap((row) => {
      const result = results.get(row.session_id);
      return result ? [{ ...row, result }] : [];
    });
    const waiting = told.length < rows.length ? "Fetching the sessions\u2026" : "";
    if (!waiting) showDoubts(told);
    ladders.update(told, comparison.engine, units);
    fade.update({
      lines: told.map((row) => ({ ...fadeLine(row.session_id, row.tag, row.name, row.result), kind: kindOf(row) })), source: comparison.engine, dots: true, kinds: model.chemistries, waiting: told.length < rows.length,
      x: "energy past zero, kWh", y: "power from the pack, kW", columns: ["energy_past_zero_kwh", "power_kw"],
      words: (line, { x, y }) => `${line.name.trim()}: ${formatPlain("power", y, units)} at ${formatPlain("energy", x, units)} past zero`,
      empty: waiting || "No session has two stretches driven floored (full throttle) past zero.",
    });
    showRecharge();
  }

  /** Whose own figures are in doubt: the comparison takes them as they are. @param {(import("./campaign/model.js").Row & { result: import("./session/documents").ResultDocument })[]} told */
  function showDoubts(told) {
    const doubted = told.flatMap((row) => {
      const count = row.result.findings.filter(({ severity }) => severity !== "note").length;
      return count ? [el("a", { href: `/desk?session=${encodeURIComponent(row.session_id)}` }, `${car(row)}: ${count}`)] : [];
    });
    doubts.replaceChildren(...(doubted.length === 0 ? ["No session raises a doubt of its own."]
      : ["\u25b2 Doubts that sessions raise themselves; they count here as they are: ", ...doubted.flatMap((link, i) => (i ? [", ", link] : [link])), "."]));
  }

  /** @param {import("./campaign/model.js").Row} row */
  function kindOf({ chemistry }) {
    return chemistry ? model?.chemistries.indexOf(chemistry) ?? -1 : -1;
  }

  function showRecharge() {
    if (!model) return;
    recharge.update({
      lines: recharges, source: model.comparison.engine, kinds: model.chemistries, waiting: content.dataset.curves !== "there", x: "minutes since plug-in", y: "power, kW", columns: ["minutes", "power_kw"],
      words: (line, { x, y }) => `${line.name.trim()}: ${formatPlain("power", y, units)} after ${formatNumber(x, 1)} min`,
      empty: content.dataset.curves === "there" ? "No session has a recharge on record." : "The recharge curves are fetched when this part comes into view.",
    });
  }

  /** Curves aren't kept as results are, so they are asked for by those alone who look. */
  async function loadCurves() {
    if (!model) return;
    const { rows, results } = model;
    const mine = model;
    recharges = [];
    await each(rows.filter(({ session_id: one }) => results.get(one)?.recharge).map(({ session_id: one }) => one), async (one) => {
      const row = rows.find(({ session_id: other }) => other === one);
      const curves = await request(`/sessions/${one}/curves?max_points=240`, { timeoutMs: 120_000 });
      const plugIn = results.get(one)?.recharge?.plug_in_ms ?? null;
      if (model !== mine || !row) return;
      recharges.push({ ...rechargeLine(one, row.tag, row.name, curves, plugIn), kind: kindOf(row) });
      recharges.sort((a, b) => a.tag.localeCompare(b.tag, undefined, { numeric: true }));
      showRecharge();
    });
    if (model !== mine) return;
    content.dataset.curves = "there";
    showRecharge();
  }
  /** Once, whoever asks first: who comes to see them, or the report. */
  const askCurves = () => (curvesAsked ??= loadCurves());

  const seen = new IntersectionObserver((entries) => {
    if (!entries.some(({ isIntersecting }) => isIntersecting) || content.getAttribute("aria-busy") !== "false") return;
    seen.disconnect();
    void askCurves();
  }, { rootMargin: "300px" });

  /** @param {number} [before] so many were behind, and had their turn */
  async function load(before = 0) {
    try {
      const mine = (model = await loadModel(id));
      trouble.hidden = true;
      delete content.dataset.curves;
      curvesAsked = null;
      definition.update(mine);
      show();
      await loadNames(mine);
      await loadResults(mine);
      if (model !== mine) return;
      definition.update(mine);
      show();
      content.setAttribute("aria-busy", "false");
      seen.observe(recharge.element);
      published.show(units);
      const pending = mine.comparison.behind.length;
      if (pending === 0) return;
      progress.textContent = `${pending === 1 ? "1 session is" : `${pending} sessions are`} being worked out; the figures follow.`;
      const any = await workOut(mine);
      progress.textContent = "";
      if (model !== mine) return;
      if (any && pending !== before) void load(pending);
      else hosts.leftOut.replaceChildren(...leftOutList(mine));
    } catch (error) {
      content.hidden = model === null;
      content.setAttribute("aria-busy", "false");
      trouble.hidden = false;
      trouble.replaceChildren(el("h1", {}, "This campaign can\u2019t be shown"), el("p", {}, String(error instanceof Error ? error.message : error)), el("p", {}, el("a", { href: "/desk?campaigns" }, "All campaigns")));
    }
  }

  async function report() {
    if (!model) return;
    const { campaign, comparison } = model;
    const days = model.rows.map(({ started_at: at }) => at).filter((at) => at !== null).sort();
    const [first, last] = [day(days[0] ?? null), day(days.at(-1) ?? null)];
    progress.textContent = "Putting the report together\u2026";
    const [course] = await Promise.all([courseOf(model), askCurves()]);
    progress.textContent = "";
    const facts = [
      [...factsLine.children].map(({ textContent }) => textContent).join(" \u00b7 "),
      [days.length > 0 && `Driven ${first === last ? first : `${first} to ${last}`}`, course && `course: ${course}`, `report of ${day(localDay())}`].filter(Boolean).join(" \u00b7 "),
    ];
    /** @type {Map<Element, string>} */
    const pictures = new Map();
    for (const plot of plots) {
      const drawn = plot.svg(PICTURE_WIDTH);
      if (drawn) pictures.set(plot.element, drawn);
    }
    const sections = [...content.querySelectorAll("section")].filter(({ id: anchor }) => !["record", "definition"].includes(anchor)).map((one) => {
      const [head, ...nodes] = [...one.children];
      return { title: head?.textContent ?? "", nodes };
    });
    saveReport({ title: campaign.name, facts, engine: comparison.engine, sections, pictures });
  }

  void load();
  return {
    element,
    /** @param {Units} next */
    setUnits(next) {
      units = next;
      show();
      if (content.getAttribute("aria-busy") === "false") published.show(next);
    },
  };
}

/** @returns {string} today where the reader is */
function localDay() {
  const now = new Date();
  return [now.getFullYear(), String(now.getMonth() + 1).padStart(2, "0"), String(now.getDate()).padStart(2, "0")].join("-");
}
