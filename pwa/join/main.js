// @ts-check
/** Shows the steps of one kind of phone, and leaves out those that this server doesn't need. */

/** @param {string} id */
const part = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const kinds = /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("input[name=kind]"));
const apple = /iPhone|iPad|iPod/.test(navigator.userAgent)
  || (navigator.userAgent.includes("Macintosh") && navigator.maxTouchPoints > 1);

function show() {
  const chosen = [...kinds].find((kind) => kind.checked)?.value ?? "android";
  document.body.dataset.kind = chosen;
}

for (const kind of kinds) {
  kind.checked = kind.value === (apple ? "ios" : "android");
  kind.addEventListener("change", show);
}
show();

async function learn() {
  const answer = await fetch("/join/where.json", { cache: "no-store" });
  if (!answer.ok) return;
  const where = await answer.json();
  /** @type {HTMLAnchorElement} */ (part("capture")).href = `${where.url}/capture`;
  part("fetch").hidden = part("trust").hidden = !where.authority;
  if (!where.sha256) return;
  part("compare").hidden = part("sha256").hidden = false;
  part("sha256").textContent = where.sha256;
}

learn().catch(() => {
  // without a network the steps stand as they are
});
