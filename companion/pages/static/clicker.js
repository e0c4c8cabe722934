// The reflection by a clicker: back turns to the class's next rating, forward notes it, then goes to the button
// that is next, and at the second press presses it. Nothing is settled by one press alone.
"use strict";

const rating = () => document.querySelector("form.rate");
const steps = () => [...document.querySelectorAll("#ask button, .untold button, .settle > form button")];

function nextRating() {
  const choices = rating() ? [...rating().querySelectorAll("[type=radio]")] : [];
  if (!choices.length) return false;
  const next = choices[(choices.findIndex((one) => one.checked) + 1) % choices.length];
  next.checked = true;
  next.focus();
  next.dispatchEvent(new Event("input", { bubbles: true }));
  return true;
}

function goOn() {
  const form = rating();
  const [next] = steps();
  if (form && unsaved(form, "rating")) form.requestSubmit();
  else if (next && document.activeElement === next) next.click();
  else if (next) next.focus();
  return Boolean(form || next);
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const act = { PageUp: nextRating, PageDown: goOn }[event.key];
  if (!act || !(rating() || steps().length)) return;
  event.preventDefault();
  queue.then(act);
});
