// @ts-check
/// <reference path="./plotly.d.ts" />
/** Plotly's own bundle, fetched once and only by a page that draws. */

/** @type {Promise<PlotlyBundle> | null} */
let loading = null;

const SOURCE = "/vendor/plotly.min.js";

/** Bring it near without running it: parsing it would hold up figures and map. */
export function fetchPlotlyAhead() {
  const link = document.createElement("link");
  link.rel = "prefetch";
  link.href = SOURCE;
  document.head.append(link);
}

/** @returns {Promise<PlotlyBundle>} */
export function loadPlotly() {
  loading ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = SOURCE;
    script.addEventListener("load", () =>
      window.Plotly ? resolve(window.Plotly) : reject(new Error("The chart library did not start.")));
    script.addEventListener("error", () => {
      loading = null;
      reject(new Error("The chart library could not be loaded."));
    });
    document.head.append(script);
  });
  return loading;
}
