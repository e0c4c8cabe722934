// What is pasted into a cell of the week goes on from there: rows are periods, columns are days.
"use strict";

document.addEventListener("paste", (event) => {
  const table = event.target.closest ? event.target.closest("[data-week]") : null;
  const text = event.clipboardData ? event.clipboardData.getData("text/plain") : "";
  if (!table || !/[\t\n]/.test(text.trim())) return;
  event.preventDefault();
  const rows = [...table.tBodies[0].rows].map((row) => [...row.querySelectorAll("input")]);
  const top = rows.findIndex((row) => row.includes(event.target));
  const left = rows[top].indexOf(event.target);
  text.replace(/\r?\n$/, "").split(/\r?\n/).forEach((line, down) => {
    line.split("\t").forEach((words, right) => {
      const cell = rows[top + down] && rows[top + down][left + right];
      if (!cell) return;
      cell.value = words.trim();
      cell.dispatchEvent(new Event("input", { bubbles: true }));
    });
  });
});

// Arrow keys go up and down in the week, as in a spreadsheet.
document.addEventListener("keydown", (event) => {
  const table = event.target.closest && event.target.matches("input") ? event.target.closest("[data-week]") : null;
  const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!table || !by || event.altKey || event.ctrlKey || event.metaKey) return;
  const rows = [...table.tBodies[0].rows].map((row) => [...row.querySelectorAll("input")]);
  const top = rows.findIndex((row) => row.includes(event.target));
  const next = rows[top + by] && rows[top + by][rows[top].indexOf(event.target)];
  if (!next) return;
  event.preventDefault();
  next.focus();
});
