// What is typed is kept by the companion within a second, and put back when the page is loaded again.
// A form with a field `draft` takes part; that field names the form (where a form only asks, and its fields go
// into the address, `data-draft` does). What a form was sent with is no draft.
"use strict";

const KEEP_MS = 200;
const AGAIN_MS = 2000;
const timers = new Map();
const touched = new WeakSet();
const unkept = new Map();
let keeping = Promise.resolve();

function draftOf(form) {
  if (!form || !form.elements) return "";
  return form.dataset.draft || (form.elements.draft ? form.elements.draft.value : "");
}

const idOf = (form, name) => `${draftOf(form)} ${name}`;

function namesIn(form) {
  const fields = [...form.elements].filter((one) => one.name && one.type !== "hidden" && one.type !== "submit");
  return [...new Set(fields.map((one) => one.name))];
}

function valueIn(form, name) {
  const field = form.elements.namedItem(name);
  return field.type === "checkbox" && !field.checked ? "" : field.value;
}

// What stands in a field as the companion has it.
function baseIn(form, name) {
  const field = form.elements.namedItem(name);
  const first = (found) => (found ? found.value : "");
  if (field instanceof RadioNodeList) return first([...field].find((one) => one.defaultChecked));
  if (field.type === "checkbox") return field.defaultChecked ? field.value : "";
  if ("base" in field.dataset) return field.dataset.base;
  if (field.options) return first([...field.options].find((one) => one.defaultSelected) || field.options[0]);
  return field.defaultValue;
}

// An id keeps a form and its words together where another form above it comes or goes.
function nameForms(page) {
  for (const form of page.querySelectorAll("main form:not(.ask *)")) {
    if (draftOf(form) && !form.id) form.id = `form-${draftOf(form).replace("/", "-")}`;
  }
}

const unsaved = (form, name) => valueIn(form, name) !== baseIn(form, name);

// Whether a part of the page is a field with words that are not saved; `sent`: what its form was sent with.
function holdsWords(node, sent) {
  if (!(node instanceof HTMLElement) || !node.name || node.type === "hidden") return false;
  if (!draftOf(node.form) && !(node.form && "ask" in node.form.dataset)) return false;
  if (!unsaved(node.form, node.name)) return false;
  const gone = sent && sent.draft === draftOf(node.form) && sent.values.get(node.name) === valueIn(node.form, node.name);
  return !gone;
}

document.addEventListener("input", (event) => {
  const { form, name } = event.target;
  if (!draftOf(form) || !name || event.target.type === "hidden") return;
  const id = idOf(form, name);
  touched.add(event.target);
  unkept.set(id, [form, name]);
  // Who types without a pause is not waited for.
  if (!timers.has(id)) timers.set(id, setTimeout(() => keep(form, name), KEEP_MS));
});

function keep(form, name, leaving = false) {
  const id = idOf(form, name);
  const value = valueIn(form, name);
  const typed = unkept.get(id);
  const body = new URLSearchParams({ form: draftOf(form), field: name, value, base: baseIn(form, name) });
  clearTimeout(timers.get(id));
  timers.delete(id);
  const kept = (leaving ? Promise.resolve() : keeping).then(async () => {
    let answer = null;
    try {
      answer = await fetch(main().dataset.keep, { method: "POST", body, keepalive: leaving });
      if (!answer.ok) throw new Error(answer.statusText);
      if (unkept.get(id) === typed) unkept.delete(id);
      if (!unkept.size) amiss("keeping", "");
      sign(form);
    } catch {
      amiss("keeping", answer
        ? translated("What you typed is not kept yet: the disk does not take it. Trying again…")
        : translated("What you typed is not kept yet: the companion does not answer. Trying again…"));
      sign(form);
      timers.set(id, setTimeout(() => keep(form, name), AGAIN_MS));
    }
  });
  if (!leaving) keeping = kept;
  return kept;
}

// Before a button is carried out, everything typed anywhere is kept.
function keepAll(leaving = false) {
  for (const [form, name] of unkept.values()) keep(form, name, leaving);
  return keeping;
}

function sign(form) {
  let words = form.querySelector(".kept");
  if (!namesIn(form).some((name) => unsaved(form, name))) return words && words.remove();
  if (!words) {
    words = document.createElement("span");
    words.className = "kept";
    form.append(words);
  }
  words.textContent = namesIn(form).some((name) => unkept.has(idOf(form, name))) ? "…" : translated("Kept, not saved yet.");
  return undefined;
}

function putBack() {
  for (const carrier of document.querySelectorAll("[data-typed]")) {
    const typed = JSON.parse(carrier.dataset.typed);
    const form = carrier.form || carrier;
    carrier.removeAttribute("data-typed");
    for (const [name, [value, base]] of Object.entries(typed)) putBackInto(form, name, value, base);
    sign(form);
  }
}

function putBackInto(form, name, value, base) {
  const field = form.elements.namedItem(name);
  const parts = field instanceof RadioNodeList ? [...field] : [field];
  if (!field || parts.some((part) => touched.has(part)) || unsaved(form, name)) return;
  if (value === baseIn(form, name)) {
    keep(form, name);
  } else if (base === baseIn(form, name)) {
    setIn(form, name, value);
    unfold(form);
  } else {
    offer(form, name, value);
  }
}

function setIn(form, name, value) {
  const field = form.elements.namedItem(name);
  if (field.type === "checkbox") field.checked = value !== "";
  else field.value = value;
}

// Something else was saved meanwhile: neither is overwritten unasked.
function offer(form, name, value) {
  const words = document.createElement("p");
  const take = document.createElement("button");
  const forget = document.createElement("button");
  words.className = "offer";
  words.append(`${translated("You had typed “{words}” here; something else was saved since.", { words: value })} `, take, " ", forget);
  take.textContent = translated("Put it in");
  forget.textContent = translated("Forget it");
  for (const button of [take, forget]) {
    button.type = "button";
    button.addEventListener("click", () => {
      if (button === take) setIn(form, name, value);
      touched.add(form.elements.namedItem(name));
      words.remove();
      keep(form, name);
    });
  }
  form.append(words);
  unfold(form);
}

function unfold(form) {
  for (let part = form.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
}

window.addEventListener("pagehide", () => keepAll(true));
document.addEventListener("visibilitychange", () => document.hidden && keepAll(true));
window.addEventListener("beforeunload", (event) => {
  if (unkept.size) event.preventDefault();
});

nameForms(document);
putBack();
