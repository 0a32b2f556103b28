"use strict";
// "What is this?": the next thing that is pointed at, or chosen with Tab and Enter, is looked up in the help, in a page
// beside this one. It presses nothing: while it waits for a choice, no click and no Enter reaches the page.
(() => {
  const NAMED = "button, summary, label, legend, dt, th, h1, h2, h3, h4, figcaption, caption, .tag, kbd, a, b";
  let asking = null;

  // The word beside a value: the heading of its column, the name before it.
  function headingOf(cell) {
    return cell.dataset.label || cell.closest("table")?.querySelectorAll("thead th")[cell.cellIndex];
  }
  function named(at) {
    const close = at.closest(`${NAMED}, td, dd`);
    if (close?.matches("td")) return headingOf(close) || close;
    if (close?.matches("dd")) return close.parentElement.querySelector("dt") || close;
    return close || at.closest("section, article, form")?.querySelector("h2, h3, h4") || at;
  }
  // The words of an element itself, without what its fields hold and without what is marked as data or for the eye.
  function wordsOf(found) {
    if (typeof found === "string") return found;
    const copy = found.cloneNode(true);
    for (const each of copy.querySelectorAll("input, select, textarea, [aria-hidden], .quiet, kbd")) {
      if (each.textContent.trim() !== copy.textContent.trim()) each.remove();
    }
    return copy.textContent.replace(/\s+/g, " ").trim();
  }
  function ask(button) {
    asking = button;
    button.setAttribute("aria-pressed", "true");
    button.textContent = "Point at it, or Esc";
    document.documentElement.classList.add("is-asking");
  }
  function leave() {
    asking.setAttribute("aria-pressed", "false");
    asking.textContent = "What is this?";
    document.documentElement.classList.remove("is-asking");
    asking = null;
  }
  function show(target) {
    const asked = new URLSearchParams({ what: wordsOf(named(target)).slice(0, 200), on: asking.dataset.what });
    leave();
    open(`/help?${asked}`, "leadline-help");
  }
  function stop(event) {
    event.preventDefault();
    event.stopImmediatePropagation();
  }
  for (const kind of ["pointerdown", "mousedown", "submit"]) addEventListener(kind, (event) => asking && stop(event), true);
  addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-what]");
    if (!asking && !button) return;
    stop(event);
    if (!asking) ask(button);
    else if (button) leave();
    else show(event.target);
  }, true);
  addEventListener("keydown", (event) => {
    if (!asking || event.key === "Tab" || event.key === "Shift") return;
    const chosen = document.activeElement;
    const chooses = event.key === "Enter" || event.key === " ";
    if (chooses || event.key === "Escape") stop(event);
    if (chooses && !chosen.closest("[data-what]")) show(chosen);
    else leave(); // Any other key of the page is what it always is.
    // A button is pressed when the space bar is let go.
    if (event.key === " ") addEventListener("keyup", stop, { capture: true, once: true });
  }, true);
  addEventListener("DOMContentLoaded", () => {
    for (const button of document.querySelectorAll("[data-what]")) button.hidden = false;
  });
})();
