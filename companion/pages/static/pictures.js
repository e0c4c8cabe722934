// A photo is dropped on the place that it is of; then only the question about children is left to answer.
"use strict";

const placeAt = (event) => event.target.closest(".shelves > li");
const brings = (event) => [...event.dataTransfer.types].includes("Files");

function unfoldPlace(place) {
  place.querySelector("details").open = true;
  place.scrollIntoView({ block: "center" });
}

function takePhoto(place, file) {
  const only = new DataTransfer();
  const field = place.querySelector("input[type=file]");
  only.items.add(file);
  field.files = only.files;
  unfoldPlace(place);
  if (!isTooLarge(field)) place.querySelector("input[type=radio]").focus();
}

function isTooLarge(field) {
  const most = Number(field.dataset.mostBytes);
  if (!field.files[0] || field.files[0].size <= most) return false;
  field.value = "";
  say("alert", translated("The file is larger than {megabytes} MB. Nothing was kept. Save the picture smaller and try again.", { megabytes: most / 1e6 }));
  return true;
}

function light(place) {
  for (const lit of document.querySelectorAll(".shelves .aim")) lit.classList.remove("aim");
  if (place) place.classList.add("aim");
}

document.addEventListener("change", (event) => event.target.matches("input[type=file]") && isTooLarge(event.target));
document.addEventListener("dragover", (event) => {
  if (!brings(event)) return;
  event.preventDefault();
  light(placeAt(event));
});
document.addEventListener("dragleave", (event) => event.relatedTarget || light(null));
document.addEventListener("drop", (event) => {
  if (!brings(event)) return;
  event.preventDefault();
  light(null);
  const place = placeAt(event);
  say("alert", place ? "" : translated("Drop the picture on the place that it is of: a carry-over, a phase or a routine."));
  if (place) takePhoto(place, event.dataTransfer.files[0]);
});

const aimed = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
if (aimed) unfoldPlace(aimed);
