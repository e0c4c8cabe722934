// A look together in mid-lesson: S, or the button, shows the reflection so far and comes back.
// A window for the class does it itself; where none is open, the teacher's own window does.
"use strict";

const ANSWER_MS = 300;
const CAME_FROM = "came from";
const classWindows = new BroadcastChannel("so far");
let answered = false;

function turnOver() {
  const { look, live } = document.body.dataset;
  if (LOOKING) {
    location.replace(sessionStorage.getItem(CAME_FROM) || live);
  } else {
    sessionStorage.setItem(CAME_FROM, location.pathname + location.search);
    location.replace(`${look}?look${DAY ? "&day" : ""}`);
  }
}

classWindows.onmessage = ({ data }) => {
  if (data === "here") answered = true;
  else if (document.body.dataset.audience === "class" && data === document.body.dataset.session) {
    classWindows.postMessage("here");
    turnOver();
  }
};

function lookTogether() {
  if (!document.body.dataset.look) return;
  if (document.body.dataset.audience === "class") {
    turnOver();
    return;
  }
  answered = false;
  classWindows.postMessage(document.body.dataset.session);
  setTimeout(() => answered || turnOver(), ANSWER_MS);
}

document.addEventListener("keydown", (event) => {
  if (event.key.toLowerCase() !== "s" || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.target.matches("input, select, textarea") || document.querySelector("[data-deck]")) return;
  lookTogether();
});
document.addEventListener("click", (event) => event.target.closest("[data-look-together]") && lookTogether());
