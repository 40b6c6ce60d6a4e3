// @ts-check
/// <reference path="./d3.d.ts" />
/** D3, from the package that carries it: fetched once and only by a page that draws. */

/** @type {Promise<D3> | null} */
let loading = null;

/** @returns {Promise<D3>} */
export function loadD3() {
  loading ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = "/vendor/d3.min.js";
    script.addEventListener("load", () =>
      window.d3 ? resolve(window.d3) : reject(new Error("The chart library did not start.")));
    script.addEventListener("error", () => {
      loading = null;
      reject(new Error("The chart library could not be loaded."));
    });
    document.head.append(script);
  });
  return loading;
}
