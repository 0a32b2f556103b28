"use strict";
// The forms of a run's pages and what they are answered. All else works without it. Keys are keys.js, the live link is
// link.js, what it shows figures.js.
(() => {
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
  Object.assign(window.leadline, { say, closeNotice });
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
  document.addEventListener("click", (event) => {
    if (!event.target.closest("[data-close-notice]")) return;
    event.preventDefault();
    closeNotice();
  });
})();
