// Two comforts that the pages do without where script is off: rounds stay ticked, and a print button.
"use strict";

const knitting = document.querySelector("[data-ticks]");

function remembered(key) {
  try {
    return new Set(JSON.parse(localStorage.getItem(key) || "[]"));
  } catch (error) {
    console.info("Ticks are not kept here:", error.name);
    return new Set();
  }
}

function remember(key, ticks) {
  try {
    localStorage.setItem(key, JSON.stringify([...ticks]));
    return true;
  } catch (error) {
    console.info("Ticks are not kept here:", error.name);
    return false;
  }
}

function button(words, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button quiet";
  made.textContent = words;
  made.addEventListener("click", act);
  return made;
}

function tickable(section) {
  const key = `heeldepth ticks ${section.dataset.ticks}`;
  const boxes = [...section.querySelectorAll("input[type=checkbox]")];
  const told = document.createElement("p");
  told.setAttribute("role", "status");
  told.className = "note";
  let kept = true;

  function tell() {
    const done = boxes.filter((box) => box.checked).length;
    const where = kept ? "" : " This browser does not keep the ticks.";
    told.textContent = `${done} of ${boxes.length} rounds done.${where}`;
  }

  function keep() {
    kept = remember(key, boxes.filter((box) => box.checked).map((box) => box.value));
    tell();
  }

  const before = remembered(key);
  for (const box of boxes) {
    box.checked = before.has(box.value);
    box.addEventListener("change", keep);
  }
  const clear = button("Untick all rounds", () => {
    for (const box of boxes) box.checked = false;
    keep();
  });
  const row = document.createElement("div");
  row.className = "doing screen";
  row.append(button("Print", () => window.print()), clear);
  section.querySelector("h2").after(told, row);
  tell();
}

if (knitting) tickable(knitting);
