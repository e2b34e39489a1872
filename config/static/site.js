// Everything works without this file; with it, some things take fewer touches.
"use strict";

// "− 66 +": the buttons beside a number.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  if (!button) return;
  const input = button.closest(".count").querySelector("input");
  const by = Number(button.dataset.step);
  if (by < 0) input.stepDown(-by); else input.stepUp(by);
  input.dispatchEvent(new Event("input", { bubbles: true }));
  input.dispatchEvent(new Event("change", { bubbles: true }));
});

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

// A form is sent once, however often its button is touched; back in the page, it can be sent again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.hasAttribute("data-again")) return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
  setTimeout(() => { delete form.dataset.sent; }, 4000);
});
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => { delete form.dataset.sent; });
});

// What is typed in a quiet field asks for no answer: the answer does not hang on it, and may hold the field itself.
["input", "change"].forEach((name) => document.addEventListener(name, (event) => {
  if (event.target.closest("[data-quiet]")) event.stopPropagation();
}, true));

// Alt with a letter presses the button that names it, whatever field one is in; the letter's place on the keyboard
// counts, since a Mac writes other signs with Alt held.
document.addEventListener("keydown", (event) => {
  if (!event.altKey || event.ctrlKey || event.metaKey || !event.code.startsWith("Key")) return;
  const button = document.querySelector(`[data-key="${event.code.slice(3).toLowerCase()}"]`);
  if (!button) return;
  event.preventDefault();
  button.click();
});

// The list of what is wrong comes first, to the eye and to the screen reader.
const showFaults = (root) => {
  const faults = root.querySelector(".faults[tabindex]");
  if (faults) faults.focus();
};

// What stands open beside the rest on a desk would push the rest out of sight on a phone.
const closeOnPhones = () => {
  if (!window.matchMedia("(max-width: 700px)").matches) return;
  document.querySelectorAll("details[data-wide]").forEach((part) => { part.open = false; });
};

// A sheet of days opens at today, not at the first day of the season.
const showToday = (root) => {
  root.querySelectorAll("[data-today-share]").forEach((region) => {
    const room = region.scrollWidth - region.clientWidth;
    if (room <= 0) return;
    region.scrollLeft = Number(region.dataset.todayShare) * region.scrollWidth - region.clientWidth / 2;
  });
};

// On a phone the shelves are one row to push sideways; it opens at the one we stand on.
const showShelf = () => {
  const here = document.querySelector(".shelves [aria-current]");
  const row = here && here.parentElement;
  if (row) row.scrollLeft = here.offsetLeft - row.offsetLeft - (row.clientWidth - here.offsetWidth) / 2;
};

// A part that swaps keeps the height it once had, so that nothing below it jumps.
document.addEventListener("htmx:beforeSwap", (event) => {
  const target = event.detail.target;
  if (target.classList.contains("live")) {
    target.style.minHeight = `${Math.max(parseFloat(target.style.minHeight) || 0, target.offsetHeight)}px`;
  }
});
document.addEventListener("htmx:afterSwap", (event) => showToday(event.detail.target));

// No answer from the service is said in words, once, at the top of the page.
const trouble = (shown) => {
  const notice = document.getElementById("no-answer");
  if (notice) notice.hidden = !shown;
};
["htmx:sendError", "htmx:responseError", "htmx:timeout"].forEach((name) => {
  document.addEventListener(name, () => trouble(true));
});
document.addEventListener("htmx:afterOnLoad", () => trouble(false));

showFaults(document);
showToday(document);
showShelf();
closeOnPhones();
