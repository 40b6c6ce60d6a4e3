// @ts-check
/** Signing in at the desk, and back to where one was going. */
import { ApiError, request } from "../shared/api.js";

const form = /** @type {HTMLFormElement} */ (document.querySelector("form"));
const problem = /** @type {HTMLElement} */ (document.getElementById("problem"));
const button = /** @type {HTMLButtonElement} */ (form.querySelector("button"));
const [name, password] = /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("input")]);

/** Only ever one of our pages, whatever somebody wrote into a link. */
function goal() {
  const wanted = new URL(location.hash.slice(1) || "/desk", location.origin);
  const inside = wanted.origin === location.origin && ["/desk", "/follow"].includes(wanted.pathname);
  return inside ? wanted.pathname + wanted.search + wanted.hash : "/desk";
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  void signIn();
});

async function signIn() {
  problem.textContent = "";
  if (!name?.value || !password?.value) {
    problem.textContent = "Both name and password are needed.";
    (name?.value ? password : name)?.focus();
    return;
  }
  button.disabled = true;
  try {
    await request("/sign-in", { method: "POST", body: { name: name.value, password: password.value } });
    location.replace(goal());
  } catch (error) {
    problem.textContent = error instanceof ApiError ? error.message : String(error);
    button.disabled = false;
    password.select();
  }
}
