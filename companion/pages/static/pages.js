// One small script for all pages. Without it every button still works by loading the page anew.
"use strict";

// Chromium 156 crashes on leaving a page in which nodes were moved with their state.
delete Element.prototype.moveBefore;

const main = () => document.getElementById("main");

// ---- sentences in the reader's language: by the English one, from `script_words.py`

const TRANSLATIONS = JSON.parse(document.body.dataset.words);
const translated = (sentence, values = {}) =>
  (TRANSLATIONS[sentence] || sentence).replace(/\{(\w+)\}/g, (_all, name) => values[name]);

const EDGE_MS = 1500;
const READ_MS = 6000;
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

// pressed: when a button was pressed whose moment counts; each try says how long ago that is.
async function send(address, options, pressed = 0) {
  for (let attempt = 0; ; attempt += 1) {
    try {
      if (pressed) options.body.set("ago_ms", Math.round(performance.now() - pressed));
      const answer = await fetch(address, options);
      amiss("sending", "");
      return answer;
    } catch (error) {
      if (attempt >= RETRY_MS.length) {
        amiss("sending", "");
        throw error;
      }
      amiss("sending", translated("Not recorded yet: the companion does not answer. Trying again…"));
      await pause(RETRY_MS[attempt]);
    }
  }
}

let queue = Promise.resolve();
let sending = 0;

function filledIn(form, button) {
  const fields = new FormData(form);
  const data = form.enctype === "multipart/form-data" ? fields : new URLSearchParams(fields);
  if (form.closest("[data-each-press]")) data.set("request", newWish());
  if (button && button.name) data.set(button.name, button.value);
  return data;
}

// A form over the settings says which state of the file it shows. What is pressed in it while an earlier press is
// under way is sent as the form stands afterwards; a button means what it says, wherever its row is by then.
function filledInNow(form, button, words) {
  const now = form.isConnected ? form : document.getElementById(form.id);
  if (goingOn || !now) return null;
  if (!button) return filledIn(now, null);
  const does = (one) => one.name === button.name && one.textContent === words;
  const same = button.form === now && does(button) ? button : [...now.elements].find(does);
  return same ? filledIn(now, same) : null;
}

let goingOn = false;
window.addEventListener("pageshow", () => {
  goingOn = false;
  busy(0);
});

function wish(form, button) {
  const early = form.elements.version ? null : filledIn(form, button);
  const words = button ? button.textContent : "";
  const pressed = form.closest("[data-each-press]") ? performance.now() : 0;
  busy(1);
  queue = queue.then(async () => {
    let answer = null;
    try {
      await keepAll();
      const data = early || filledInNow(form, button, words);
      if (!data) return;
      const sent = { draft: draftOf(form), values: data };
      answer = await send(form.action, { method: "POST", body: data, redirect: "follow" }, pressed);
      if (answer.ok && data instanceof FormData) form.reset();
      await take(answer, sent);
    } catch {
      // What was answered was recorded: a page that can't show it in place is loaded anew.
      if (answer) location.reload();
      else say("alert", translated("This was not recorded: the companion does not answer. Start it again, then repeat the step."));
    } finally {
      busy(-1);
    }
  });
  return queue;
}

function busy(by) {
  sending += by;
  main().setAttribute("aria-busy", String(sending > 0 || goingOn));
}

async function take(answer, sent) {
  const type = answer.headers.get("Content-Type") || "";
  const body = await answer.text();
  if (!type.startsWith("text/html")) {
    say("alert", body);
    return;
  }
  const page = new DOMParser().parseFromString(body, "text/html");
  const trouble = page.querySelector("[data-trouble]");
  if (trouble && !answer.ok) {
    say("alert", [...trouble.children].map((part) => part.textContent).join("\n"));
    return;
  }
  say("alert", "");
  const elsewhere = new URL(answer.url).pathname !== location.pathname;
  // Another language changes what stands around the page, too.
  const otherwise = page.documentElement.lang !== document.documentElement.lang;
  if (answer.redirected && (elsewhere || otherwise)) {
    goingOn = true;
    location.assign(answer.url);
    return;
  }
  show(page, sent);
  const wrong = answer.ok ? null : main().querySelector("[aria-invalid]");
  if (wrong) wrong.focus();
}

// ---- showing a newer state without losing the place

// Only what differs is touched: never a field with words that are not saved, nor what the reader unfolded.
// sent: what a form was sent with just now; those words are saved.
function show(page, sent) {
  const fresh = page.getElementById("main");
  nameForms(page);
  const card = currentCard();
  const focused = document.activeElement;
  const at = reachable().indexOf(focused);
  const around = placesAround(focused);
  const asked = document.getElementById("ask");
  const above = asked && asked.previousElementSibling;
  const callbacks = {
    beforeNodeMorphed: (old) => !holdsWords(old, sent),
    beforeNodeRemoved: (old) => !(old.matches && old.matches(sent ? ".kept, .offer" : ".kept, .offer, .ask")),
    beforeAttributeUpdated: (name, node) =>
      !(name === "open" && node.localName === "details") && !(name === "tabindex" && node === document.activeElement),
  };
  Idiomorph.morph(main(), fresh.innerHTML, { morphStyle: "innerHTML", callbacks });
  for (const nav of document.querySelectorAll("nav")) {
    const newer = page.querySelector("nav");
    if (newer) Idiomorph.morph(nav, newer.innerHTML, { morphStyle: "innerHTML" });
  }
  // A question that waits for its answer is not pushed to the page's end by news from elsewhere.
  if (above && asked.isConnected && asked.previousElementSibling !== above) above.after(asked);
  main().dataset.stamp = fresh.dataset.stamp || "";
  lightEdge();
  if (focused !== document.activeElement && focused.isConnected) focused.focus({ preventScroll: true });
  if (at >= 0 && document.activeElement === document.body) focusNear(at, around);
  if (card && !currentCard()) focusCard(card.id);
  if (sent && document.getElementById("ask")) document.getElementById("ask").focus();
  lightCard();
  for (const form of document.querySelectorAll("form:has(.kept)")) sign(form);
  putBack();
  tick();
}

const STOPS = "a[href], button:not([tabindex='-1']), input:not([type=hidden]), select, textarea, summary";
const reachable = () => [...main().querySelectorAll(STOPS)].filter((one) => one.checkVisibility());

function placesAround(node) {
  const places = [];
  for (let place = node.parentElement; place && main().contains(place); place = place.parentElement) places.push(place);
  return places;
}

// A button of the set-up that has given way, as Listen to Stop, leaves its place on the keyboard to what stands
// there now. In a lesson a second Enter would take back what the first has done: there the part of the page that
// the button was in has the focus, and Tab goes on from there.
function focusNear(at, around) {
  const left = document.getElementById("step") ? reachable() : [];
  const near = left[Math.min(at, left.length - 1)] || around.find((place) => place.isConnected && place.checkVisibility());
  if (near.tabIndex < 0) near.tabIndex = -1;
  near.focus({ preventScroll: true });
}

// A mark lights the window's edge for a teacher who can't hear its tone.
let newestMark = null;

function lightEdge() {
  const lesson = document.getElementById("lesson");
  const before = newestMark;
  newestMark = lesson ? lesson.dataset.newest : null;
  if (before === null || !newestMark || newestMark === before || !("lights" in lesson.dataset)) return;
  const kind = newestMark.split(" ")[1];
  document.body.classList.remove("edge", "praise", "reminder");
  document.body.classList.add("edge", kind);
  setTimeout(() => document.body.classList.remove("edge", kind), EDGE_MS);
}

function say(id, words) {
  const region = document.getElementById(id);
  region.textContent = words;
  region.hidden = !words;
}

// What stands between this page and the companion, by who has noticed it: told for as long as it is so.
const troubles = new Map();

function amiss(who, words) {
  if (words) troubles.set(who, words);
  else troubles.delete(who);
  say("connection", [...troubles.values()].join(" "));
}

// What was done without anything on the page to show for it is told for long enough to be read.
let reading = 0;

function tell(words) {
  const region = document.getElementById("said");
  region.textContent = words;
  clearTimeout(reading);
  reading = setTimeout(() => (region.textContent = ""), READ_MS);
}

// An alert stays until it was read: a click on it, Esc, or the next thing that works takes it away.
document.addEventListener("click", (event) => event.target.closest("#alert") && say("alert", ""));
document.addEventListener("keydown", (event) => event.key === "Escape" && say("alert", ""));

// Until all scripts have come, a button loads the page anew, as without them. What copies or prints first waits.
let ready = false;

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.matches("[data-plain]")) return;
  if (!ready && !form.dataset.first) return;
  event.preventDefault();
  if (!ready) return;
  if (form.dataset.first === "print") window.print();
  else if (form.dataset.first) {
    copy(form.dataset.first).then((copied) => copied && wish(form, event.submitter));
    return;
  }
  const list = form.closest("#go");
  if (list) list.open = false;
  const goesOn = whereTo(form);
  wish(form, event.submitter).then(() => goesOn && focusNext(goesOn));
});

// What a form with one hidden `do` asks for; undefined where its buttons say it.
const doing = (form) => form.elements.do && form.elements.do.value;

// ---- the stream of changes: of the page, or of the day in the window that follows it

const DAY = new URLSearchParams(location.search).has("day") ? document.body.dataset.day : "";
const LOOKING = new URLSearchParams(location.search).has("look");

// A browser opens six connections to one address, those of all windows together. No more than these seats are taken
// by streams, so that a button always finds a connection; a window without a seat looks for news by itself, and
// whenever another window has some.
const SEATS = ["stream 1", "stream 2", "stream 3", "stream 4"];
const SEAT_OF_A_METER = "stream of a meter";
const LOOK_MS = 2000;

const news = new BroadcastChannel("news");
news.onmessage = () => !wanted && !document.hidden && lookForNews().catch(lost);

let stream = null;
let heard = new Date();
let wanted = null;
let again = 0;

// The promised function gives the seat back; null where somebody sits there.
function sitDown(seat) {
  return new Promise((answer) => {
    navigator.locks.request(seat, { ifAvailable: true }, (lock) => {
      if (lock) return new Promise((rise) => answer(rise));
      answer(null);
      return null;
    });
  });
}

async function findSeat() {
  for (const seat of main().querySelector("[data-level]") ? [...SEATS, SEAT_OF_A_METER] : SEATS) {
    const rise = await sitDown(seat);
    if (rise) return rise;
  }
  return null;
}

async function listen() {
  if (!(DAY || main().dataset.stream) || wanted || document.hidden) return;
  const mine = {};
  wanted = mine;
  mine.rise = await findSeat();
  if (wanted !== mine) {
    if (mine.rise) mine.rise();
  } else if (mine.rise) {
    follow();
  } else {
    wanted = null;
    await lookForNews().then(() => amiss("listening", ""), lost);
    clearTimeout(again);
    again = setTimeout(listen, LOOK_MS);
  }
}

function follow() {
  stream = new EventSource(DAY || main().dataset.stream);
  stream.onmessage = (event) => {
    amiss("listening", "");
    heard = new Date();
    news.postMessage("");
    const [stamp, page] = event.data.split(" ");
    if (page) goWithTheDay(DAY.replace("/projector/stream", page));
    if (stamp !== main().dataset.stamp) refresh();
  };
  stream.addEventListener("level", (event) => {
    const meter = main().querySelector("[data-level]");
    if (meter) meter.value = Number(event.data);
  });
  stream.onerror = () => {
    lost();
    if (stream.readyState === EventSource.CLOSED) {
      deafen();
      setTimeout(listen, 2000);
    }
  };
}

function lost() {
  const time = heard.toLocaleTimeString(document.documentElement.lang, { hourCycle: "h23" });
  amiss("listening", translated("No connection to the companion. This is how it was at {time}.", { time }));
}

function deafen() {
  if (stream) stream.close();
  if (wanted && wanted.rise) wanted.rise();
  stream = wanted = null;
}

let refreshing = false;

async function refresh() {
  if (refreshing || sending) return;
  refreshing = true;
  try {
    const answer = await fetch(location.href);
    heard = new Date();
    if (answer.ok && !sending && !goingOn) show(new DOMParser().parseFromString(await answer.text(), "text/html"));
  } finally {
    refreshing = false;
  }
}

async function lookForNews() {
  if (DAY) goWithTheDay(new URL((await fetch(DAY.replace("/stream", ""))).url).pathname);
  await refresh();
}

// The window of the day goes to the page that the day has come to; in a look together it stays while that lasts.
function goWithTheDay(place) {
  if (location.pathname === place || (LOOKING && place === document.body.dataset.live)) return;
  goingOn = true;
  location.replace(`${place}?day`);
}

// Windows that nobody sees hold no connection.
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
    ? translated(minutes ? "{minutes} min over" : "time is up", { minutes })
    : translated(minutes ? "{minutes} min left" : "less than a minute left", { minutes });
  if (left.textContent !== words) left.textContent = words;
  left.classList.toggle("over", ms < 0);
}, 1000);

document.addEventListener("click", (event) => {
  const target = event.target.closest("button, [data-card]");
  if (!target) return;
  if (target.dataset.sound) new Audio(target.dataset.sound).play().catch(() => say("alert", translated("This sound is no longer in memory.")));
});

async function copy(id) {
  try {
    await navigator.clipboard.writeText(document.getElementById(id).textContent);
    tell(translated("Copied."));
    return true;
  } catch {
    say("alert", translated("The browser did not allow copying. Select the text below and copy it yourself."));
    document.getElementById(id).hidden = false;
    return false;
  }
}

// What was saved is told once, and not again when the page is loaded anew.
if (new URLSearchParams(location.search).has("saved")) history.replaceState(null, "", location.pathname);

document.addEventListener("DOMContentLoaded", () => {
  ready = true;
  tick();
  lightEdge();
  listen();
});
