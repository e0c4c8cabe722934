// Who may see it: a private page asks first in a window that has shown a page for the class.
"use strict";

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
