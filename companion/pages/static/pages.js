// One small script for all pages. Without it every button still works by loading the page anew.
"use strict";

const main = () => document.getElementById("main");
const RETRY_MS = [300, 700, 1500, 3000, 5000, 5000, 5000, 5000];
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// ---- wishes: every form carries an id, so that one sent again is recorded once

const LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

function newWish() {
  let time = Date.now();
  let id = "";
  for (let i = 0; i < 10; i += 1) {
    id = LETTERS[time % 32] + id;
    time = Math.floor(time / 32);
  }
  for (const byte of crypto.getRandomValues(new Uint8Array(16))) id += LETTERS[byte % 32];
  return id;
}

async function send(address, options) {
  for (let attempt = 0; ; attempt += 1) {
    try {
      return await fetch(address, options);
    } catch (error) {
      if (attempt >= RETRY_MS.length) throw error;
      say("connection", "Not recorded yet: the companion does not answer. Trying again…");
      await pause(RETRY_MS[attempt]);
    }
  }
}

let queue = Promise.resolve();
let sending = 0;

function wish(form, button) {
  const data = new URLSearchParams(new FormData(form));
  const open = openParts();
  if (form.closest("[data-each-press]")) data.set("request", newWish());
  if (button && button.name) data.set(button.name, button.value);
  busy(1);
  queue = queue.then(async () => {
    try {
      const answer = await send(form.action, { method: "POST", body: data, redirect: "follow" });
      await take(answer);
      reopen(open);
      if (answer.ok) say("connection", "");
    } catch {
      say("alert", "This was not recorded: the companion does not answer. Start it again, then repeat the step.");
    } finally {
      busy(-1);
    }
  });
  return queue;
}

function busy(by) {
  sending += by;
  main().setAttribute("aria-busy", String(sending > 0));
}

const openParts = () => [...main().querySelectorAll("details[id][open]")].map((part) => part.id);

function reopen(ids) {
  for (const id of ids) {
    const part = document.getElementById(id);
    if (part) part.open = true;
  }
}

async function take(answer) {
  const type = answer.headers.get("Content-Type") || "";
  const body = await answer.text();
  if (!type.startsWith("text/html")) {
    say("alert", body);
    return;
  }
  const page = new DOMParser().parseFromString(body, "text/html");
  const trouble = page.querySelector("[data-trouble]");
  if (trouble && !answer.ok) {
    say("alert", trouble.innerText || trouble.textContent);
    return;
  }
  say("alert", "");
  if (answer.redirected && new URL(answer.url).pathname !== location.pathname) {
    location.assign(answer.url);
    return;
  }
  show(page);
}

// ---- showing a newer state without losing the place

function show(page) {
  const fresh = page.getElementById("main");
  const pieces = document.querySelectorAll("[data-piece]");
  if (pieces.length) {
    for (const old of pieces) {
      const piece = page.getElementById(old.id);
      if (piece && !sameButWishes(old, piece)) swap(old, piece);
    }
  } else {
    swap(main(), fresh);
  }
  main().dataset.stamp = fresh.dataset.stamp || "";
  tick();
}

function sameButWishes(old, fresh) {
  const plain = (node) => node.innerHTML.replace(/name="request" value="\w+"/g, "");
  return plain(old) === plain(fresh);
}

function swap(old, fresh) {
  const place = placeOf(old);
  old.replaceChildren(...fresh.childNodes);
  restore(old, place);
}

// A place is a card by its id, or a control by its order on the page.
function placeOf(region) {
  const focused = document.activeElement;
  if (!region.contains(focused)) return null;
  const card = focused.closest("[data-card]");
  return card ? { card: card.id } : { order: controls(region).indexOf(focused) };
}

function restore(region, place) {
  if (!place) return;
  const target = place.card ? document.getElementById(place.card) : controls(region)[place.order];
  if (target) target.focus({ preventScroll: !place.card });
}

const controls = (region) => [...region.querySelectorAll("a, button, input, select, summary")];

function say(id, words) {
  const region = document.getElementById(id);
  region.textContent = words;
  if (id !== "said") region.hidden = !words;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.matches("[data-plain]")) return;
  event.preventDefault();
  if (form.dataset.first === "print") window.print();
  else if (form.dataset.first) {
    copy(form.dataset.first).then((copied) => copied && wish(form, event.submitter));
    return;
  }
  const card = form.closest("[data-card]");
  const goesOn = card && ["keep", "drop", "restore", "dismiss", "confirm"].includes(doing(form));
  const next = goesOn ? nextCard(card) : null;
  wish(form, event.submitter).then(() => next && focusCard(next.id));
});

// What a form with one hidden `do` asks for; undefined where its buttons say it.
const doing = (form) => form.elements.do && form.elements.do.value;

// ---- the stream of changes

let stream = null;

function listen() {
  if (!main().dataset.stream || stream) return;
  stream = new EventSource(main().dataset.stream);
  stream.onmessage = (event) => {
    say("connection", "");
    if (event.data !== main().dataset.stamp) refresh();
  };
  stream.onerror = () => {
    say("connection", `No connection to the companion. This is how it was at ${new Date().toLocaleTimeString()}.`);
    if (stream.readyState === EventSource.CLOSED) {
      deafen();
      setTimeout(listen, 2000);
    }
  };
}

function deafen() {
  if (stream) stream.close();
  stream = null;
}

let refreshing = false;

async function refresh() {
  if (refreshing || sending) return;
  if (editing()) {
    say("connection", "Something was changed in another window. It is shown here when you save or leave this form.");
    return;
  }
  refreshing = true;
  try {
    const answer = await fetch(location.href);
    if (answer.ok && !sending) show(new DOMParser().parseFromString(await answer.text(), "text/html"));
  } finally {
    refreshing = false;
  }
}

function editing() {
  const field = document.activeElement;
  return main().contains(field) && field.closest(".fields") !== null && !document.querySelector("[data-piece]");
}

// ---- the window that follows the day: it goes to the page that the stream names

const DAY = document.body.dataset.day;

function follow() {
  const day = new EventSource(DAY);
  day.onmessage = (event) => {
    const place = DAY.replace("/projector/stream", event.data);
    if (location.pathname !== place) location.replace(`${place}?day`);
  };
  day.onerror = () => {
    if (day.readyState === EventSource.CLOSED) setTimeout(follow, 2000);
  };
}

if (new URLSearchParams(location.search).has("day")) follow();

// Windows that nobody sees hold no connection: browsers allow only six to one address.
document.addEventListener("visibilitychange", () => (document.hidden ? deafen() : listen()));

// ---- the minutes left

function tick() {
  const left = document.querySelector("[data-left-ms]");
  if (!left || left.dataset.leftMs === "" || left.dataset.from) return;
  left.dataset.from = String(performance.now());
}

setInterval(() => {
  const left = document.querySelector("[data-left-ms]");
  if (!left || !left.dataset.from) return;
  const ms = Number(left.dataset.leftMs) - (performance.now() - Number(left.dataset.from));
  const minutes = Math.floor(Math.abs(ms) / 60000);
  const words = ms < 0
    ? (minutes ? `${minutes} min over` : "time is up")
    : (minutes ? `${minutes} min left` : "less than a minute left");
  if (left.textContent !== words) left.textContent = words;
}, 1000);

// ---- the deck of the review: keys work only while a card has the focus

const cards = () => [...document.querySelectorAll("[data-deck] [data-card]")];
const currentCard = () => document.activeElement && document.activeElement.closest("[data-card]");

function nextCard(card) {
  const all = cards();
  return all[all.indexOf(card) + 1] || card;
}

function focusCard(id) {
  const card = document.getElementById(id);
  if (!card) return;
  card.focus({ preventScroll: true });
  card.scrollIntoView({ block: "center" });
}

function move(card, by) {
  const all = cards();
  const target = all[Math.min(all.length - 1, Math.max(0, all.indexOf(card) + by))];
  focusCard(target.id);
}

function pressed(card, key) {
  const button = card.querySelector(`[data-key="${key}"]`) || (key === "A" || key === "U" ? document.querySelector(`[data-deck] [data-key="${key}"]`) : null);
  if (button) button.click();
  return Boolean(button);
}

function forward(card) {
  const go = card.querySelector("[data-go]");
  if (go) return go.click();
  if (card.dataset.card === "rest" ? pressed(card, "A") : card.hasAttribute("data-open") && pressed(card, "K")) return undefined;
  return move(card, 1);
}

function back(card) {
  if (card.dataset.card === "rest") return move(card, 1);
  return pressed(card, "D") ? undefined : move(card, 1);
}

function turn(card) {
  const form = [...card.querySelectorAll("form")].find((one) => doing(one) === "turn");
  if (form) form.requestSubmit();
  else if (card.dataset.card === "rest") pressed(card, "U");
}

const KEYS = {
  ArrowDown: (card) => move(card, 1),
  ArrowUp: (card) => move(card, -1),
  Enter: forward,
  PageDown: forward,
  PageUp: back,
  ".": turn,
};

document.addEventListener("keydown", (event) => {
  const card = currentCard();
  if (!card || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.target.matches("input, select, textarea")) return;
  if (event.target !== card && ["Enter", " "].includes(event.key)) return;
  const act = KEYS[event.key];
  const letter = event.key.toUpperCase();
  if (act) {
    event.preventDefault();
    whenAnswered(act);
  } else if ("KDCBPAU".includes(letter) && letter.length === 1) {
    event.preventDefault();
    whenAnswered((current) => pressed(current, letter));
  }
});

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

document.addEventListener("click", (event) => {
  const target = event.target.closest("button, [data-card]");
  if (!target) return;
  if (target.dataset.sound) new Audio(target.dataset.sound).play().catch(() => say("alert", "This sound is no longer in memory."));
});

async function copy(id) {
  try {
    await navigator.clipboard.writeText(document.getElementById(id).textContent);
    say("said", "Copied.");
    say("connection", "Copied.");
    return true;
  } catch {
    say("alert", "The browser did not allow copying. Select the text below and copy it yourself.");
    document.getElementById(id).hidden = false;
    return false;
  }
}

// ---- who may see it: a private page asks first in a window that has shown a page for the class

const SHOWN = "shown to the class";

function askFirst() {
  const gate = document.getElementById("gate");
  if (document.body.dataset.audience === "class") sessionStorage.setItem(SHOWN, "yes");
  if (!gate) return;
  gate.hidden = sessionStorage.getItem(SHOWN) === null;
  document.body.classList.toggle("seen", gate.hidden);
  if (!gate.hidden) gate.querySelector("[data-show-here]").focus();
}

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-show-here]")) {
    sessionStorage.removeItem(SHOWN);
    askFirst();
    main().focus();
  } else if (event.target.closest("[data-go-back]")) {
    history.back();
  }
});

window.addEventListener("pageshow", askFirst);

tick();
listen();
const first = document.querySelector("[data-deck] [data-open]") || document.getElementById("rest");
if (first) focusCard(first.id);
