"use strict";
// The forms and the keys of a run's pages. All else works without it. The live link is link.js, what it shows figures.js.
(() => {
  const body = document.body;
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  // ---- a press counts once: the second half of a double press would otherwise meet the button of the next step
  const { outbox } = window.leadline;
  const LATER = new Set([429, 502, 503, 504, 507]); // as in outbox.js: nothing was stored
  const ANSWER_MS = 5_000; // a press that hangs longer is kept, and sent again with the same key
  const ONE_PRESS_MS = 500;
  // Whoever counts presses in the rhythm of what they hear. The next count is told from a double press by its time
  // alone; one that comes before the last was answered is kept, and pressed when the button has its new number.
  const pressedAt = new Map();
  const answering = new Set(); // parts whose count is on its way
  const again = new Set(); // and those where the next one was pressed meanwhile
  const expected = new Map(); // part to what its band shows when its own count was taken
  const swallow = (event) => {
    event.preventDefault();
    event.stopImmediatePropagation();
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post") return;
    const part = form.elements.from?.value ?? "";
    const now = performance.now();
    if (now - (pressedAt.get(part) ?? -ONE_PRESS_MS) < ONE_PRESS_MS) return swallow(event);
    pressedAt.set(part, now);
    carryTime(form);
    const number = /^count:([0-9]+)$/.exec(event.submitter?.value ?? "")?.[1];
    if (number && answering.has(part)) {
      again.add(part);
      outbox.follows(form, event.submitter);
      return swallow(event);
    }
    if (outbox.takes(form, event.submitter) || outbox.needsServer(form, event.submitter)) return swallow(event);
    if (!number) return;
    answering.add(part);
    expected.set(part, `${form.elements.step.value} count:${Number(number) + 1}`);
  }, true);

  // One time field stands for the whole band: what is typed there goes with whichever of its buttons is pressed.
  const shared = (form) => form.closest(".band")?.querySelector("[data-at]");
  function carryTime(form) {
    const own = form.querySelector("[data-late]");
    if (own && !own.value.trim()) own.value = shared(form)?.value ?? "";
  }

  window.leadline.guard = (part) => pressedAt.set(part, performance.now());
  // The same when another station's mark or count moves the band on just before the hand comes down.
  const standing = (band) =>
    `${band.querySelector(".marking [name=step]")?.value ?? ""} ${band.querySelector("[data-done]")?.value ?? ""}`;
  // Nor may a go or an acknowledgement become somebody else's under the hand, when another station gives the first.
  const mainOf = (band) => band.querySelector("[data-main]")?.value ?? "";
  const mains = new Map(all(".band").map((band) => [band.id, mainOf(band)]));
  const shown = new Map(all(".band").map((band) => [band.id, standing(band)]));
  document.addEventListener("htmx:after:swap", () => {
    for (const band of all(".band")) {
      const stands = standing(band);
      const moved = shown.get(band.id) !== stands;
      shown.set(band.id, stands);
      const main = mainOf(band);
      if (mains.get(band.id) !== main && !main.startsWith("count:")) pressedAt.set(band.id, performance.now());
      mains.set(band.id, main);
      if (moved && expected.get(band.id) !== stands) {
        pressedAt.set(band.id, performance.now());
        again.delete(band.id);
      } else if (moved && again.delete(band.id)) {
        pressedAt.delete(band.id);
        band.querySelector("[data-done]").click();
      }
    }
  });

  // ---- forms: after a press that was taken, typed words are cleared; one that was refused keeps them
  // The form may have left the page before its answer came, with a row that another station's order took away.
  const formOf = (event) => event.detail?.ctx?.sourceElement?.closest?.("form");
  document.addEventListener("htmx:after:request", (event) => {
    const form = formOf(event);
    const { response, text } = event.detail.ctx;
    if (!form) return;
    answering.delete(form.elements.from?.value);
    if (response.status >= 400) again.delete(form.elements.from?.value);
    // Nor is anything lost to somebody whose session has ended; a refusal of ours brings the parts with its sentence.
    const signedOut = response.status === 401 || (response.status === 403 && !text.includes("<hx-partial"));
    if (signedOut || LATER.has(response.status)) {
      if (outbox.isFlying(form)) event.preventDefault(); // It is kept, so "not done" would be one word too many.
      return keepIfMay(form, sentenceOf(response, text));
    }
    outbox.landed(form);
    if (response.status < 400) {
      taken(form);
      // What was tried is done: a reload must not try it again on top.
      if (form.elements.do?.value === "what-if") history.replaceState(history.state, "", location.pathname);
    }
    // A refusal brings the parts with its sentence; anything else that went wrong brings a page of its own.
    else if (!text.includes("<hx-partial")) say(sentenceOf(response, text));
  });
  // What was answered instead, in its own words: of error.html, or of a guard that stands before all pages.
  function sentenceOf(response, text) {
    const isPlain = (response.headers.get("content-type") ?? "").startsWith("text/plain");
    const page = isPlain ? null : new DOMParser().parseFromString(text, "text/html");
    const own = (isPlain ? text : page.querySelector(".page-error .sentence")?.textContent ?? "").trim();
    return own ? `Not done. ${own.slice(0, 400)}` : `The server answered with an error (${response.status}), so nothing is marked.`;
  }
  // What may be entered late is kept at this station until the server answers again (outbox.js).
  function keepIfMay(form, otherwise) {
    if (outbox.isFlying(form)) outbox.giveUp();
    else say(otherwise);
  }
  window.leadline.answered = (form) => [answering, again].forEach((parts) => parts.delete(form.elements.from?.value));
  window.leadline.taken = taken;
  // A go or a count leaves the values of the step as they are typed; they go with its mark. The time goes with one press.
  function taken(form) {
    const at = shared(form);
    if (at && (form.matches(".marking") || form.querySelector("[data-late]"))) at.value = "";
    if (form.matches(".marking")) return backToBand(form);
    form.reset();
    const fold = form.closest("details[data-once]");
    if (fold || form.matches(".lift")) backToBand(form);
    if (fold) fold.open = false;
  }
  function backToBand(form) {
    if (form.contains(document.activeElement)) form.closest(".band")?.focus({ preventScroll: true });
  }
  document.addEventListener("htmx:error", (event) => {
    answering.clear();
    again.clear();
    const form = formOf(event);
    const pressed = event.detail.ctx.request?.submitter?.textContent.trim();
    // It may have arrived; and what the button says by then may be another order, so that to press it again is no way to find out.
    if (form?.method === "post") keepIfMay(form, `“${pressed ?? "This"}” needs the server, and it did not answer: it is not known whether it was done. See what the page shows when it is live again, or the Log, before you press anything again.`);
  });

  document.addEventListener("htmx:config:request", (event) => {
    const { ctx } = event.detail;
    const form = ctx.sourceElement?.closest?.("form[method=post]");
    if (form) ctx.request.timeout = ANSWER_MS;
  });

  // ---- the notice: what this page says itself, and taking away what was said
  window.leadline.say = say;
  function say(sentence) {
    closeNotice();
    const said = document.createElement("div");
    said.className = "notice refused";
    said.setAttribute("role", "alert");
    said.textContent = sentence;
    document.getElementById("notice")?.prepend(said);
  }
  function closeNotice() {
    const place = document.getElementById("notice");
    if (!place) return;
    for (const each of all(".notice", place)) each.remove();
    // What is shown is no longer what the server sent, so the next answer to a press brings this part again.
    const have = place.querySelector(".have");
    if (have) have.value = "notice:";
  }

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
    k: () => window.leadline.outboxPanel?.toggle(),
    "?": () => document.getElementById("keys")?.showModal(),
  };
  const typing = (target) => target.closest("input:not([type=hidden]), textarea, select");
  const pressable = (target) => target.closest("button, a, summary, dialog");

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.key === "Escape") {
      document.activeElement?.blur?.();
      if (!document.getElementById("keys")?.open && !window.leadline.outboxPanel?.close()) closeNotice();
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
    if (event.target.closest("[data-close-notice]")) {
      event.preventDefault();
      closeNotice();
    }
  });
  for (const button of all("[data-keys]")) button.hidden = false;
})();
