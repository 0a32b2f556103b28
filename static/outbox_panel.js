"use strict";
// What is seen of the outbox: the words in the bar, and the list of what is kept, with what may be done about each. It keeps
// and sends nothing itself.
(() => {
  const { leadline } = window;
  const { outbox } = leadline;
  const { state } = outbox;
  const body = document.body;
  const panel = document.getElementById("outbox");
  if (!panel) return;
  const make = (tag, text = "", more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);
  function button(text, pressed, more = {}) {
    const made = make("button", text, { type: "button", ...more });
    made.addEventListener("click", pressed);
    return made;
  }

  // ---- the words in the bar; the list opens by them, by K, and by itself when something needs the person
  const refused = () => state.items.filter((item) => item.state === "refused");
  function summary() {
    const parts = [outbox.waiting().length && `${outbox.waiting().length} waiting`, refused().length && `${refused().length} refused`].filter(Boolean);
    return parts.length ? `kept here, ${parts.join(", ")}` : "";
  }
  let open = false;
  let asked = 0; // how many were in need of the person when it opened by itself
  function toggle(wanted = !open) {
    open = wanted;
    paint();
    if (open) panel.focus({ preventScroll: true });
  }
  const opener = button("", () => toggle(), { className: "kept-opener" });
  opener.setAttribute("aria-controls", "outbox");
  function paintBar(text) {
    const place = document.getElementById("kept");
    if (!place) return;
    if (opener.parentNode !== place) place.replaceChildren(opener);
    if (place.hidden !== !text) place.hidden = !text;
    if (opener.textContent !== text) opener.textContent = text;
    opener.setAttribute("aria-expanded", String(open));
    opener.classList.toggle("refused", refused().length > 0);
  }

  // ---- the list
  const two = (n) => String(n).padStart(2, "0");
  const clock = (s) => `${two(Math.floor(s / 3600))}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
  function when(item) {
    const at = item.pressed === null ? "" : clock(item.pressed);
    const said = outbox.typed(item);
    return said ? [`“${said}”`, at && `pressed ${at}`].filter(Boolean).join(", ") : at;
  }
  const isSending = (item) => item.place === state.sending?.place;
  const unstored = (item) => (item.unstored ? `. Held by the open page alone: this browser can store nothing more (${item.unstored}). Leave the page open` : "");
  function row(item) {
    const line = make("li", "", { className: `is-${item.state}` });
    line.append(make("p", item.words), make("p", `at ${when(item)}${item.run === leadline.run ? "" : ` · run ${item.run}`}`, { className: "small quiet" }));
    const says = make("p", "", { className: "state" });
    line.append(says);
    if (item.state === "refused") {
      says.append(make("b", "REFUSED. "), item.sentence);
      line.append(button("Send again", () => outbox.change(item, { state: "waiting", sentence: "", agreed: true })), dropper(item));
    } else if (outbox.foreign(item)) {
      says.append(make("b", `Kept by ${item.by || "nobody signed in"}. `), "It waits until you say under whose name it goes.");
      line.append(button(`Send it as ${body.dataset.me || "this station"}`, () => outbox.change(item, { agreed: true })), dropper(item));
    } else {
      says.textContent = (isSending(item) ? "being sent" : item.tried ? "waiting; it may have arrived already, and counts once" : "waiting") + unstored(item);
      if (outbox.canTakeBack(item)) line.append(button("Take back", () => outbox.takeBack(item), { className: "plain" }));
    }
    return line;
  }
  // To drop it is confirmed, and a note may go into the log in its place.
  function dropper(item) {
    const form = make("form", "", { className: "line", hidden: true });
    const field = make("input", "", { maxLength: 1500, size: 24, autocomplete: "off" });
    const label = make("label", "Note for the log, if you like ");
    label.append(field);
    const first = button("Drop it", () => {
      [first.hidden, form.hidden] = [true, false];
      field.focus();
    }, { className: "plain" });
    form.append(label, make("button", "Drop it for good", { className: "grave" }), button("Keep it", () => { [first.hidden, form.hidden] = [false, true]; }, { className: "plain" }));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const text = field.value.trim();
      if (!text || (await outbox.note(item, `Not entered: “${item.words}”, at ${when(item)}. ${text}`))) outbox.drop(item);
    });
    const both = document.createDocumentFragment();
    both.append(first, form);
    return both;
  }

  function why() {
    if (state.stopped === "sign-in") {
      const link = make("a", `Sign in to send ${outbox.waiting().length === 1 ? "it" : `the ${outbox.waiting().length} kept marks`}`, { href: `/sign-in?next=${encodeURIComponent(location.pathname + location.search)}` });
      link.addEventListener("click", outbox.signingIn);
      const said = make("p", "", { className: "limit" });
      said.append(link, ". Nothing of it is lost.");
      return said;
    }
    if (!outbox.waiting().length) return make("p", "What is refused is in no log: see why, then send it again or drop it.", { className: "quiet" });
    const here = leadline.alsoAt.length ? " They belong to this address: at another one they are not seen, and they go from here when a server answers here again." : "";
    return make("p", (state.trouble || "They are in no log yet. They are sent in this order, each once, as soon as the server answers.") + here, { className: "quiet" });
  }
  const head = make("div", "", { className: "head" });
  const reason = make("div");
  const list = make("ol");
  panel.tabIndex = -1;
  panel.append(head, reason, list);
  head.append(make("h2"), button("Close", () => toggle(false), { className: "plain" }));

  // What is being read, typed or pressed stays as it is: only rows that changed are made anew, and none is moved.
  const made = new Map(); // place -> {json, line}
  function paintList() {
    const lines = state.items.map((item) => {
      const json = JSON.stringify([item, isSending(item), body.dataset.me]);
      const known = made.get(item.place);
      if (known?.json !== json) made.set(item.place, { json, line: row(item) });
      return made.get(item.place).line;
    });
    for (const line of [...list.children]) if (!lines.includes(line)) line.remove();
    lines.forEach((line, place) => list.children[place] !== line && list.insertBefore(line, list.children[place] ?? null));
    for (const place of made.keys()) if (!state.items.some((item) => item.place === place)) made.delete(place);
  }
  let told = "";
  function paint() {
    const text = summary();
    const needy = refused().length + outbox.waiting().filter(outbox.foreign).length + (state.stopped && text ? 1 : 0);
    if (needy > asked) open = true;
    asked = needy;
    if (!text) open = false;
    if (panel.hidden !== !open) panel.hidden = !open;
    paintBar(text);
    const title = text && text[0].toUpperCase() + text.slice(1);
    if (head.firstChild.textContent !== title) head.firstChild.textContent = title;
    const now = JSON.stringify([state.stopped, state.trouble, outbox.waiting().length]);
    if (now !== told) reason.replaceChildren(why());
    told = now;
    paintList();
    underTheBar();
  }
  // Under the bar, over the page: nothing moves under the hand when it opens.
  function underTheBar() {
    const bar = document.querySelector(".bar")?.getBoundingClientRect();
    const top = `${Math.max(8, Math.round((bar?.bottom ?? 0) + 8))}px`;
    if (!panel.hidden && panel.style.top !== top) panel.style.top = top;
  }

  leadline.outboxPanel = { toggle: () => summary() && toggle(), close: () => open && (toggle(false), true), when };
  outbox.listen(paint);
  document.addEventListener("htmx:after:swap", paint);
  for (const name of ["scroll", "resize"]) addEventListener(name, underTheBar, { passive: true });
  paint();
})();
