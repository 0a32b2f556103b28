"use strict";
// The keys of a run's pages, and a word beside a value while it is typed. It sends nothing itself: a key presses the
// button that is there (leadline.js).
(() => {
  const { leadline } = window;
  const { body } = document;
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];

  // ---- values: a word beside the field while it is typed; whether it is a number, and in tolerance, the server decides
  function hint(field) {
    const typed = field.value.trim().replaceAll("−", "-").replaceAll(",", ".");
    const number = /^[+-]?[0-9]{1,12}(\.[0-9]{1,9})?$/.test(typed) ? Number(typed) : null;
    const { low, high } = field.dataset;
    if (!typed) return "";
    if (number === null) return "Not a number";
    if (low !== "" && number < Number(low)) return `OUT OF TOLERANCE: below ${low}`;
    if (high !== "" && number > Number(high)) return `OUT OF TOLERANCE: above ${high}`;
    return "";
  }
  function paintHint(field) {
    const place = field.closest(".value").querySelector(".hint");
    const text = hint(field);
    if (place.textContent !== text) place.textContent = text;
  }
  const paintHints = () => all("[data-value]").forEach(paintHint);
  document.addEventListener("input", (event) => event.target.matches("[data-value]") && paintHint(event.target));
  document.addEventListener("reset", () => setTimeout(paintHints));
  document.addEventListener("htmx:after:swap", paintHints);
  paintHints();

  // ---- keys
  let chosen = null;
  const bands = () => all(".band");
  function choose(band) {
    for (const each of bands()) each.classList.toggle("chosen", each === band);
    chosen = band ? band.id : null;
    if (band) {
      band.focus({ preventScroll: true });
      band.scrollIntoView({ block: "nearest" });
      outOfTheBar(band.querySelector("[data-main]"));
    }
  }
  // A band may be taller than a low window: then its main button is what must be seen, and the bar must not lie over it.
  function outOfTheBar(button) {
    const bar = document.querySelector(".bar");
    if (!button || !bar) return;
    button.scrollIntoView({ block: "nearest" });
    const over = bar.getBoundingClientRect().bottom + 8 - button.getBoundingClientRect().top;
    if (getComputedStyle(bar).position === "sticky" && over > 0) scrollBy(0, -over);
  }
  const current = () => (chosen && document.getElementById(chosen)) || (bands().length === 1 ? bands()[0] : null);
  // What is not seen, such as the step that a card of the outbox stands before, is not pressed.
  const seen = (selector) => current() && all(selector, current()).find((each) => each.getClientRects().length);
  function press(selector) {
    seen(selector)?.click();
  }
  function enter(selector) {
    const field = seen(selector);
    field?.focus();
    field?.select?.(); // What was refused there is typed over.
  }
  function fold(selector) {
    press(selector);
    const opened = seen(selector)?.closest("details");
    if (opened?.open) opened.querySelector("[data-first]")?.focus();
  }
  function openTools() { // From any band, so that what changes hands is entered in a few letters.
    const place = document.querySelector("[data-tools]")?.closest("details");
    if (!place) return;
    place.open = true;
    place.querySelector("[data-first]").focus();
    place.scrollIntoView({ block: "nearest" });
  }
  function visit(name) {
    const link = all(".bar nav a").find((each) => each.textContent.trim() === name);
    if (link) link.click();
  }
  function callPoll() {
    const fold = document.querySelector("[data-poll]")?.closest("details");
    if (!fold) return;
    fold.open = true;
    fold.querySelector("[data-first]").focus();
  }
  function toRound() { // the one that is due first; those to come are in a fold
    const field = document.querySelector("[data-round]") ?? document.querySelector("#rounds [data-first]");
    if (!field) return;
    const fold = field.closest("details");
    if (fold) fold.open = true;
    field.focus();
  }
  const KEYS = {
    Enter: () => press("[data-main]"),
    u: () => press("[data-undo]"),
    a: () => press("[data-all]"),
    n: () => fold("[data-no-go]"),
    c: () => fold("[data-correct]"),
    m: () => fold("[data-more]"),
    v: () => enter("[data-value]"),
    t: () => enter("[data-at]"),
    d: () => visit("Desk"),
    l: () => visit("Lead board"),
    y: () => visit("My list"),
    g: () => visit("Log"),
    h: () => visit("Handover"),
    q: callPoll,
    p: () => visit("Plan"),
    s: () => document.querySelector("[data-sound]")?.click(),
    o: () => openTools(),
    r: toRound,
    k: () => leadline.outboxPanel?.toggle(),
    "?": () => document.getElementById("keys")?.showModal(),
  };
  const typing = (target) => target.closest("input:not([type=hidden]), textarea, select");
  const pressable = (target) => target.closest("button, a, summary, dialog");

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.key === "Escape") {
      document.activeElement?.blur?.();
      if (!document.getElementById("keys")?.open && !leadline.outboxPanel?.close()) leadline.closeNotice();
      return;
    }
    // An Enter held down would press again and again.
    if (event.key === "Enter" && event.repeat && !event.target.closest("textarea")) event.preventDefault();
    // Enter in the time field presses what it presses in the band; in a value's field it is about the mark.
    const enters = event.key === "Enter" && event.target.closest(".marking [data-at], .marking [data-value]");
    const pressed = enters && enters.matches("[data-at]") ? "[data-main]" : "[data-done]";
    const button = enters && (enters.form.querySelector(pressed) ?? enters.closest(".band").querySelector(pressed));
    if (button && !event.repeat) {
      event.preventDefault();
      button.click();
    }
    // A list to choose from would open instead of sending its form, as a field does.
    if (event.key === "Enter" && !event.repeat && event.target.matches("[data-enters] select")) {
      event.preventDefault();
      const form = event.target.form;
      form?.requestSubmit(form.querySelector("button"));
    }
    if (event.repeat || typing(event.target)) return;
    if (event.key === "Enter" && pressable(event.target)) return;
    const band = /^[1-9]$/.test(event.key) && document.querySelector(`[data-digit="${event.key}"]`);
    if (band) choose(band);
    else if (KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key]) {
      event.preventDefault();
      KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key]();
    }
  });
  document.addEventListener("focusin", (event) => {
    const band = event.target.closest(".band");
    if (band && band.id !== chosen) {
      for (const each of bands()) each.classList.toggle("chosen", each === band);
      chosen = band.id;
    }
  });
  document.addEventListener("htmx:after:swap", () => {
    for (const each of bands()) each.classList.toggle("chosen", each.id === chosen);
    // A button that went away with its step must not take the focus, and with it the keys, out of its band.
    if (chosen && document.activeElement === body) document.getElementById(chosen)?.focus({ preventScroll: true });
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-keys]")) document.getElementById("keys").showModal();
  });
  for (const button of all("[data-keys]")) button.hidden = false;
})();
