// The deck of the review: keys work only while a card has the focus, and mean the same on every card.
// Which keys there are, and what they do, is said by the page (`data-key`, `data-does`).
"use strict";

const GOES_ON = ["keep", "drop", "restore", "flip", "earlier", "dismiss", "confirm", "keep-rest"];
const cards = () => [...document.querySelectorAll("[data-deck] [data-card]")];
const currentCard = () => document.activeElement && document.activeElement.closest("[data-card]");

// The cards that need a look: open ones, and the two that close the list.
const needs = (card) => card.hasAttribute("data-open") || card.id === "gaps" || card.id === "rest";

// After a decision the next card that needs a look has the focus; a reading that is turned can be turned on.
function whereTo(form) {
  const card = form.closest("[data-card]");
  return card && GOES_ON.includes(doing(form)) ? card.id : null;
}

function focusNext(id) {
  const all = cards();
  const at = all.findIndex((card) => card.id === id);
  const next = id === "rest" ? all[at] : all.slice(at + 1).find(needs) || document.getElementById("rest");
  if (next) focusCard(next.id);
}

function focusCard(id) {
  const card = document.getElementById(id);
  if (!card) return;
  card.focus({ preventScroll: true });
  card.scrollIntoView({ block: "nearest" });
}

function move(card, by) {
  const all = cards();
  focusCard(all[Math.min(all.length - 1, Math.max(0, all.indexOf(card) + by))].id);
}

// A key presses the button that says so, on the card or on the page.
function pressed(card, key) {
  const button = card.querySelector(`[data-key~="${key}"]`) || document.querySelector(`[data-everywhere] [data-key~="${key}"]`);
  if (button) button.click();
  else say("did", translated("{key} does nothing on this card.", { key }));
  return Boolean(button);
}

function forward(card) {
  const go = card.querySelector("[data-go]");
  if (go) return go.click();
  if (card.id === "rest") return document.querySelector("[data-key~=A]") ? pressed(card, "A") : backToTheFirst();
  return card.hasAttribute("data-open") ? pressed(card, "K") : focusNext(card.id);
}

// What was left for later is come back to, with a clicker too.
function backToTheFirst() {
  const open = document.querySelector("[data-deck] [data-open]");
  if (open) focusCard(open.id);
}

function turn(card) {
  const form = [...card.querySelectorAll("form")].find((one) => doing(one) === "turn");
  if (form) form.requestSubmit();
  else if (card.id === "rest") pressed(card, "U");
  else pressed(card, "C");
}

// Phase, routine and scope are set in the card's form; Esc comes back from there.
function unfoldCard(card, name) {
  const form = [...card.querySelectorAll("form")].find((one) => doing(one) === "change");
  if (!form) return say("did", translated("This can be changed on marks only."));
  unfold(form);
  return form.elements.namedItem(name).focus();
}

function addMissed() {
  document.querySelector("#add select").focus();
}

const KEYS = {
  ArrowDown: (card) => move(card, 1),
  ArrowUp: (card) => move(card, -1),
  Enter: forward,
  PageDown: forward,
  PageUp: (card) => (card.id === "rest" ? move(card, 1) : pressed(card, "D")),
  ".": turn,
  K: (card) => (card.hasAttribute("data-open") ? pressed(card, "K") : focusNext(card.id)),
  F: (card) => unfoldCard(card, "phase"),
  O: (card) => unfoldCard(card, "routine"),
  S: (card) => unfoldCard(card, "scope"),
  N: (card) => focusNext(card.id),
  M: addMissed,
};

let lastCard = "";

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") return goBack(event);
  const card = currentCard();
  if (!card || event.ctrlKey || event.altKey || event.metaKey) return undefined;
  if (event.target.matches("input, select, textarea")) return undefined;
  if (event.target !== card && ["Enter", " "].includes(event.key)) return undefined;
  const key = event.key.length === 1 ? event.key.toUpperCase() : event.key;
  if (!(key in KEYS) && !/^[DCRBPAU]$/.test(key)) return undefined;
  event.preventDefault();
  say("did", "");
  return whenAnswered(KEYS[key] || ((current) => pressed(current, key)));
});

// From a field to its card, from the form beneath to the card before.
function goBack(event) {
  const card = currentCard();
  if (event.target === card || !document.getElementById(card ? card.id : lastCard)) return;
  event.preventDefault();
  const part = event.target.closest("details");
  if (part) part.open = false;
  focusCard(card ? card.id : lastCard);
}

// A key that comes before the last one is answered waits, and then means the card that has the focus.
let keys = Promise.resolve();

function whenAnswered(act) {
  keys = keys.then(async () => {
    await queue;
    const card = currentCard();
    if (card) act(card);
    await queue;
  });
}

// The card that is looked at is lit on the bed.
function lightCard() {
  const card = currentCard();
  if (!card) return;
  lastCard = card.id;
  for (const stem of document.querySelectorAll(".stem.lit")) stem.classList.remove("lit");
  const stem = document.getElementById(`stem-${card.id}`);
  if (stem) stem.classList.add("lit");
  const pin = document.getElementById("pin");
  pin.classList.toggle("shown", "x" in card.dataset);
  for (const end of ["x1", "x2"]) pin.setAttribute(end, `${card.dataset.x || 0}%`);
}

document.addEventListener("focusin", lightCard);

const first = document.querySelector("[data-deck] [data-open]") || document.getElementById("rest");
if (first) first.focus({ preventScroll: true });
