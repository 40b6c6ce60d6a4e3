// @ts-check
/** Who is signed in, and the way out; nothing where nobody has to be. */
import { request } from "../shared/api.js";
import { el } from "./page/dom.js";

async function show() {
  const { name } = await request("/me");
  if (!name) return;
  document.getElementById("switches")?.append(el("button", {
    type: "button", class: "quiet", title: `Signed in as ${name}`, onclick: () => void leave(),
  }, "Sign out"));
}

async function leave() {
  await request("/sign-out", { method: "POST", body: {} });
  window.location.assign("/sign-in");
}

show().catch(() => {
  // the page itself says what it can't reach
});
