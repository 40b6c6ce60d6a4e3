// @ts-check
/** Where a code's link can be pasted: an installed app is not what a phone's camera opens. */
import { h, say } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";
import { action } from "../page/view-settings.js";
import { tokenIn } from "./pairing.js";

/** @param {(token: string) => void} use */
export function askCode(use) {
  const field = h("input", { id: "code", type: "text", autocomplete: "off", autocapitalize: "none", spellcheck: "false" });
  const words = h("p", { class: "kept", role: "status" }, "The desk shows it as a code to scan; what a camera reads there is a link. Paste it here.");
  const sheet = showSheet("Join by a code", [
    h("label", { class: "field", for: "code" }, h("span", {}, "Link or code"), field), words,
    action("Join", "its session, and no other", () => {
      const token = tokenIn(field.value);
      if (token === null) return say(words, "This is not a link from the desk. It ends in #join= and the code.");
      sheet.close();
      use(token);
    }),
  ], { name: "code" });
}
