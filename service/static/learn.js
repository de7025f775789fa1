// Comforts of the page that the pages do without where script is off: measurements can be slid, and
// the chances follow the fields as they change.
"use strict";

const SETTLED_MS = 180;
const REACHABLE = "a[href], button, input, select, summary, [tabindex]";

function slider(field, follow) {
  const made = document.createElement("input");
  made.type = "range";
  made.min = field.dataset.low;
  made.max = field.dataset.high;
  made.step = field.dataset.step;
  made.setAttribute("aria-label", `${field.labels[0].textContent}, slider`);
  const take = () => { made.value = Number.parseFloat(field.value.replace(",", ".")) || made.min; };
  made.addEventListener("input", () => {
    field.value = made.value;
    follow();
  });
  field.addEventListener("change", take);
  take();
  field.after(made);
}

// What was opened stays open, and what had the focus keeps it.
function replaced(id, page) {
  const part = document.getElementById(id);
  const opened = [...part.querySelectorAll("details")].map((one) => one.open);
  const held = [...part.querySelectorAll(REACHABLE)].indexOf(document.activeElement);
  part.replaceChildren(...page.getElementById(id).childNodes);
  part.querySelectorAll("details").forEach((one, place) => { one.open = Boolean(opened[place]); });
  if (held >= 0) part.querySelectorAll(REACHABLE)[held]?.focus({ preventScroll: true });
}

function marked(field, page) {
  const fresh = page.getElementById(field.id);
  const before = document.getElementById(`${field.id}-fault`);
  const fault = page.getElementById(`${field.id}-fault`);
  for (const name of ["aria-invalid", "aria-describedby"]) {
    if (fresh.hasAttribute(name)) field.setAttribute(name, fresh.getAttribute(name));
    else field.removeAttribute(name);
  }
  if (before) before.remove();
  if (fault) field.before(fault);
}

function live(form) {
  const parts = form.dataset.live.split(" ");
  const fields = [...form.querySelectorAll("[id]:not([type=range])")];
  let asked = 0;
  let waiting = 0;

  async function ask() {
    const mine = ++asked;
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (mine !== asked) return;
    if (!parts.every((id) => page.getElementById(id))) {
      form.submit();
      return;
    }
    for (const id of parts) replaced(id, page);
    for (const field of fields) marked(field, page);
  }

  function follow() {
    clearTimeout(waiting);
    waiting = setTimeout(() => ask().catch((error) => console.info("Not asked:", error.name)), SETTLED_MS);
  }

  for (const field of fields) {
    field.addEventListener("change", follow);
    if (field.dataset.low) slider(field, follow);
  }
}

const setting = document.querySelector("form[data-live]");
if (setting) live(setting);
