// @ts-check
/** The campaign as one HTML file: the same words, tables and pictures, without any script. */
import { fileName, saveAs } from "../page/files.js";

export const PICTURE_WIDTH = 1000; // pixels of a picture without its edge, as they are in the report

const STYLE = `body{font:15px/1.5 Palatino,Georgia,serif;color:#14212b;background:#f5f1e8;max-width:1080px;margin:0 auto;padding:32px 24px}
h1{font-weight:400;font-size:34px;margin:0 0 4px}h2{font-weight:400;font-size:22px;border-top:1px solid #14212b;padding-top:10px;margin-top:34px}
.statement{font-size:19px;max-width:70ch}.verdict-line{font-size:27px;line-height:1.2;margin:14px 0 6px}.soft,.hint,.row-detail,.figure-interval,.plot-note{color:#4b5a63;font-size:13px}
table{border-collapse:collapse;width:100%;font:13px/1.4 Helvetica,Arial,sans-serif}caption{display:none}th,td{padding:5px 8px;border-bottom:1px solid #cdc5b4;text-align:right;font-weight:400;vertical-align:top}
th:first-child,td:first-child,.words,.cars th:first-of-type{text-align:left}.cars{font-size:12px}.cars .figure-interval,.cars .row-detail{font-size:10.5px}.cars th,.cars td{padding:5px 4px}.cars td{white-space:nowrap}.figure-interval,.column-unit,.row-detail{display:block}figure{margin:0}img{width:100%;height:auto;margin:10px 0}
.visually-hidden,.on-page{display:none}a{color:#0b6a66}@media print{body{background:none;max-width:none}h2,img,tr{break-inside:avoid}}`;
const CAUTIONS = [
  "Only on a closed course with its owner\u2019s permission: a car that loses propulsion on a public road endangers people.",
  "The passenger operates the phone, never the driver. A chase vehicle with lights follows.",
  "Work on high voltage is for qualified people only. Running a battery empty may be against the maker\u2019s advice and warranty.",
  "The figures hold for these cars, days and courses: nobody should count on a reserve past zero.",
];

/**
 * @param {object} report
 * @param {string} report.title
 * @param {string[]} report.facts a line each
 * @param {string} report.engine
 * @param {{ title: string, nodes: Node[] }[]} report.sections words and tables as the page shows them
 * @param {Map<Element, string>} report.pictures an SVG for each plot on the page
 */
export function saveReport({ title, facts, engine, sections, pictures }) {
  const sheet = document.implementation.createHTMLDocument(title);
  const add = (/** @type {Element} */ into, /** @type {string} */ tag, /** @type {string} */ text) => {
    const node = sheet.createElement(tag);
    node.textContent = text;
    into.append(node);
    return node;
  };
  sheet.documentElement.lang = "en";
  const charset = sheet.createElement("meta");
  charset.setAttribute("charset", "utf-8");
  sheet.head.prepend(charset);
  add(sheet.body, "h1", title);
  for (const line of facts) add(sheet.body, "p", line).className = "soft";
  for (const section of sections) {
    if (section.title) add(sheet.body, "h2", section.title);
    for (const node of section.nodes) sheet.body.append(plain(node, sheet, pictures));
  }
  add(sheet.body, "h2", "Before anybody does the same");
  const list = add(sheet.body, "ul", "");
  for (const caution of CAUTIONS) add(list, "li", caution);
  add(sheet.body, "p", `Intervals are meant to hold the truth 95 times in 100. ${engine}`).className = "soft";
  const text = sheet.documentElement.outerHTML.replace("</head>", `<style>${STYLE}</style></head>`); // as an element this page's policy refuses it
  saveAs(`${fileName(title, "report")}.html`, `<!doctype html>\n${text}`, "text/html;charset=utf-8");
}

/** @param {Node} node of the page @param {Document} sheet @param {Map<Element, string>} pictures */
function plain(node, sheet, pictures) {
  if (!(node instanceof Element)) return sheet.importNode(node, true);
  const copy = /** @type {Element} */ (sheet.importNode(node, true));
  const drawn = [...node.querySelectorAll("figure")];
  const figures = node.matches("figure") ? [[node, copy]] : [...copy.querySelectorAll("figure")].map((one, i) => [drawn[i], one]);
  for (const [original, place] of figures) {
    const picture = original && pictures.get(original);
    if (!place) continue;
    const image = sheet.createElement("img");
    image.alt = original?.querySelector("h3")?.textContent ?? "";
    image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(picture ?? "")}`;
    place.replaceChildren(...(picture ? [image] : []));
  }
  for (const part of [copy, ...copy.querySelectorAll("[style]")]) part.removeAttribute("style"); // room kept on the page
  for (const part of copy.querySelectorAll(".sort-way, .on-page")) part.remove();
  for (const tool of copy.querySelectorAll("button, input, select, .table-foot, form")) {
    if (tool.matches(".sort")) tool.replaceWith(tool.textContent ?? "");
    else tool.remove();
  }
  for (const part of copy.querySelectorAll("details")) part.setAttribute("open", "");
  for (const link of copy.querySelectorAll("a")) link.replaceWith(...link.childNodes); // they lead to a server that readers don't have
  return copy;
}
