"use strict";
// How a poll, and what others ask of a person, go on while answers are kept here: the last one of each person, and what
// lifts a no-go. In the bands the cards do so (spare.js). It shows; what is pressed goes to the outbox.
(() => {
  const { leadline } = window;
  const { outbox, outboxPanel } = leadline;
  if (leadline.run === null || !document.body.dataset.keeps) return;
  const all = (selector, root) => [...root.querySelectorAll(selector)];
  const make = (tag, text = "", more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);
  const isGo = (item) => /^(poll-)?go(:|$)/.test(item.doing);
  const isAnswer = (item) => isGo(item) || /^(poll-)?no-go$/.test(item.doing);

  // What its forms are about: a poll or a step.
  const subjectOf = (box) => box.querySelector("form [name=poll], form [name=step]");
  function lastAnswers(subject) {
    const answers = outbox.of(leadline.run).filter((item) => isAnswer(item) && (outbox.fieldOf(item, "poll") || item.step) === subject.value);
    return new Map(answers.map((item) => [outbox.whomOf(item), item]));
  }

  function line(item) {
    const said = `${outbox.whomOf(item)}: ${isGo(item) ? "go" : "NO-GO"} ${outboxPanel.when(item)}`;
    const [reason, stands] = [outbox.fieldOf(item, "reason"), item.settled ? "acknowledged" : "kept here"];
    const shown = make("li", "", { className: isGo(item) ? "go" : "no-go" });
    const shape = make("span", isGo(item) ? "✓" : "✕", { className: "shape" });
    shape.setAttribute("aria-hidden", "true");
    shown.append(shape, " ", make("span", `${said}${reason && `: ${reason}`}, ${stands}`));
    return shown;
  }
  const hidden = (name, value) => make("input", "", { type: "hidden", name, value });
  // The form of a no-go that the server knows (polls.html), with what stands in the form by which it was entered.
  function lift(item, like) {
    const form = make("form", "", { method: "post", className: "lift" });
    form.setAttribute("action", like.getAttribute("action"));
    form.dataset.lift = outbox.whomOf(item);
    for (const name of ["token", "from", "page", "poll", "step", "heard"]) {
      if (like.elements[name]) form.append(hidden(name, like.elements[name].value));
    }
    form.append(hidden("do", item.doing.replace("no-go", "go")), hidden("person", form.dataset.lift), hidden("key", outbox.newKey()));
    const reason = make("label", `What lifts the no-go of ${form.dataset.lift} `);
    reason.append(make("input", "", { name: "reason", required: true, maxLength: 2000, size: 26, autocomplete: "off" }));
    const late = make("label", "When, if not now ", { className: "late small" });
    const at = make("input", "", { name: "at", size: 7, placeholder: "now", autocomplete: "off" });
    at.dataset.late = "";
    late.append(at);
    form.append(reason, late, make("button", outbox.fieldOf(item, "heard") ? `${form.dataset.lift} is go` : "I am go"));
    return form;
  }

  function paint(box) {
    const subject = subjectOf(box);
    if (!subject || box.closest(".band")) return;
    const answers = lastAnswers(subject);
    const against = [...answers.values()].filter((item) => !isGo(item));
    const isAgainst = (form, button) => against.some((item) => outbox.whomOf(item) === (button.value.split(":")[1] ?? form.elements.person?.value));
    for (const form of all(":scope > form:not(.lift), :scope > form.line", box)) {
      for (const button of all("button:not([disabled])", form)) button.hidden = isAgainst(form, button);
    }
    const state = JSON.stringify([...answers.values()].map((item) => [item.key, item.settled]));
    const known = box.querySelector(":scope > .kept-answers");
    if ((known?.dataset.state ?? "[]") === state) return;
    known?.remove();
    if (!answers.size) return;
    const list = make("ul", "", { className: "told" });
    list.append(...[...answers.values()].map(line));
    const shown = make("div", "", { className: "spare kept-answers" });
    Object.assign(shown.dataset, { state, text: box.querySelector(".text")?.textContent ?? "" });
    shown.append(list, ...against.map((item) => lift(item, subject.form)));
    box.append(shown);
  }

  const repaint = () => all(".poll, .asks > .rows > li", document).forEach(paint);
  outbox.listen(repaint);
  document.addEventListener("htmx:after:swap", repaint);
})();
