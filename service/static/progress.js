// A comfort of the progress page, which has a link to look again where script is off: it looks by
// itself, and goes on to the result.
"use strict";

const PAUSE_MS = 1000;
const GOING_ON = ["queued", "running"];

function moved(work, fresh) {
  const [told, tells] = [work, fresh].map((one) => one.querySelector("[role=status]"));
  if (told.textContent !== tells.textContent) told.textContent = tells.textContent;
  const [bar, far] = [work, fresh].map((one) => one.querySelector("progress"));
  if (far.hasAttribute("value")) [bar.max, bar.value] = [far.max, far.value];
}

async function look() {
  const work = document.getElementById("work");
  if (!GOING_ON.includes(work.dataset.state)) return;
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (answer.redirected) {
      location.replace(answer.url);
      return;
    }
    if (answer.ok) {
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById("work");
      if (GOING_ON.includes(fresh.dataset.state)) moved(work, fresh);
      else work.replaceWith(fresh);
    }
  } catch (error) {
    console.info("Not reached, tried again:", error.name);
  }
  setTimeout(look, PAUSE_MS);
}

setTimeout(look, PAUSE_MS);
