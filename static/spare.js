"use strict";
// How a band goes on while its presses are kept here: the card of the step that would be next, from cards that the server
// made before the link was lost (web/spare.py). It shows; what is pressed on it goes to the outbox.
(() => {
  const { leadline } = window;
  const { outbox, outboxPanel } = leadline;
  const body = document.body;
  const page = body.dataset.page;
  if (leadline.run === null || !body.dataset.keeps || !/^(desk|list\/.+)$/.test(page)) return;
  const all = (selector, root) => [...root.querySelectorAll(selector)];
  const FIRST_MS = 300;
  const APART_MS = 10_000; // between two fetches, so that many stations do not ask at every mark
  const MOST_LINES = 3;
  const MOST_NEXT = 3;

  // ---- the cards
  const cards = new Map(); // band id -> its articles, the next step first
  let have = -1; // the seq that they are of
  let due = performance.now() + FIRST_MS * (1 + Math.random());
  async function fetchCards() {
    if (performance.now() < due || leadline.isLost() || have === leadline.seq() || outbox.of(leadline.run).length) return;
    due = performance.now() + APART_MS * (1 + Math.random());
    try {
      const answer = await fetch(`/runs/${leadline.run}/spare?page=${encodeURIComponent(page)}`, { cache: "no-store", signal: AbortSignal.timeout(APART_MS) });
      if (!answer.ok) return;
      const made = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (outbox.of(leadline.run).length) return; // Kept meanwhile: what is shown now must not change under the hand.
      cards.clear();
      for (const spare of all("[data-spare]", made)) cards.set(spare.dataset.spare, all("article", spare));
      have = Number(made.querySelector("[data-spare-seq]").dataset.spareSeq);
    } catch { /* the next tick tries again */ }
  }

  // ---- how far a step is: by its card, by the band itself where that shows the same step and is fresher, by what is kept
  const keptOf = (step) => outbox.of(leadline.run).filter((item) => item.step === step);
  const { fieldOf: field, whomOf: whom } = outbox;
  const doing = (item) => item.doing.split(":")[0];
  const ownForm = (band) => band.querySelector(".now > .marking");
  const stepOf = (form) => form?.querySelector("[name=step]")?.value;
  function known(band, card) {
    const kept = keptOf(card.dataset.step);
    const own = stepOf(ownForm(band)) === card.dataset.step ? ownForm(band) : null;
    const read = new Set(kept.filter((item) => doing(item) === "acknowledge").map(whom));
    for (const each of own ? all("[data-first-of-all]", card) : []) {
      if (!own.querySelector(`[name=do][value="${CSS.escape(each.value)}"]`)) read.add(each.value.split(":")[1]);
    }
    const answers = new Map();
    for (const each of [...all("[data-caller]", card), ...(own ? all("[data-caller]", own) : [])]) answers.set(each.dataset.caller, each.className);
    for (const item of kept) if (["go", "no-go"].includes(doing(item))) answers.set(whom(item), doing(item));
    const next = Number(/^count:(\d+)$/.exec(own?.querySelector("[data-done]")?.value ?? "")?.[1] ?? 1);
    const numbers = kept.filter((item) => doing(item) === "count").map((item) => Number(whom(item)));
    const counted = Math.max(Number(card.dataset.counted ?? 0), next - 1, ...numbers);
    const completing = kept.filter((item) => item.doing === "mark" || (card.dataset.of && item.doing === `count:${card.dataset.of}`));
    return {
      kept, read, answers, counted,
      called: completing.length > 0,
      out: completing.some((item) => item.out) && !kept.some((item) => item.doing === "accept"),
      confirmed: card.dataset.confirms === undefined || kept.some((item) => doing(item) === "confirm"),
      left: kept.some((item) => item.doing === "not-needed"),
    };
  }
  // Called complete is done, but where somebody else must answer for it.
  const isDone = (now) => now.left || (now.called && !now.out && now.confirmed);
  function ahead(band) {
    const steps = cards.get(band.id) ?? [];
    const from = steps.findIndex((card) => card.dataset.step === stepOf(ownForm(band))); // Others may have gone on since.
    return from < 0 ? steps : steps.slice(from);
  }

  // ---- a band
  function paint(band) {
    const place = band.querySelector(".spare");
    if (!place) return;
    const steps = ahead(band);
    const own = stepOf(ownForm(band));
    const kept = outbox.of(leadline.run).filter((item) => item.step && (item.step === own || steps.some((card) => card.dataset.step === item.step)));
    const held = place.contains(document.activeElement);
    // A link that was lost before the cards came leaves the band as it is, with word of what is kept.
    const goesOn = kept.length > 0 && cards.has(band.id);
    if (place.hidden !== !kept.length) place.hidden = !kept.length;
    band.classList.toggle("keeps", goesOn);
    const open = goesOn ? steps.filter((card) => !isDone(known(band, card))) : [];
    if (kept.length) {
      if (!place.firstChild) place.append(document.createElement("ul"), document.createElement("div"));
      paintKept(band, place.firstChild, kept);
      if (goesOn) paintCard(band, place.lastChild, open[0]);
    } else if (place.firstChild) {
      place.replaceChildren();
    }
    paintNext(band, goesOn ? open.slice(1) : null);
    if (held && !place.contains(document.activeElement)) band.focus({ preventScroll: true });
  }
  function put(list, lines, of) {
    if (list.dataset.lines === of) return false;
    list.dataset.lines = of;
    list.replaceChildren(...lines.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    return true;
  }
  function paintKept(band, list, kept) {
    const last = kept.at(-1);
    const about = `${band.getAttribute("aria-label")} · `; // It stands in large letters beside it.
    const lines = kept.slice(-MOST_LINES).map((item) => `${item.words.replace(about, "")}, ${outboxPanel.when(item)}: ${item.settled ? "acknowledged" : "kept here, not yet acknowledged"}`);
    if (kept.length > MOST_LINES) lines.unshift(`and ${kept.length - MOST_LINES} before`);
    if (!put(list, lines, JSON.stringify([lines, last.place, outbox.canTakeBack(last)]))) return;
    list.className = "kept-lines small";
    if (!outbox.canTakeBack(last)) return;
    const back = document.createElement("button");
    Object.assign(back, { type: "button", className: "plain", textContent: "Take it back" });
    back.dataset.undo = "";
    back.addEventListener("click", () => outbox.takeBack(last));
    list.lastChild.append(" ", back);
  }
  function paintNext(band, open) {
    const place = band.querySelector(":scope > .next");
    const list = place?.querySelector(".spare-next");
    if (!open) return list?.remove();
    const shown = list ?? place?.appendChild(Object.assign(document.createElement("ol"), { className: "spare-next" }));
    const lines = open.slice(0, MOST_NEXT).map((card) => card.dataset.text);
    if (shown) put(shown, lines, JSON.stringify(lines));
  }

  function paintCard(band, place, card) {
    const step = card?.dataset.step ?? "";
    if (place.dataset.step !== step || !place.firstChild) {
      // A joint step goes on in the other band, too, perhaps under a hand that is coming down.
      if ((place.dataset.step ?? stepOf(ownForm(band))) !== step) leadline.guard(band.id);
      place.dataset.step = step;
      place.replaceChildren(card ? document.importNode(card, true) : nothing());
      for (const form of all("form", place)) form.elements.key.value = outbox.newKey();
      for (const each of all("[data-first-of-all], [data-second], [data-caller] > span:last-child", place)) each.dataset.label = each.textContent;
    }
    if (card) paintPresses(band, place.firstChild, known(band, card));
  }
  function nothing() {
    const text = "No further step is known here. The rest of the list comes with the server.";
    return Object.assign(document.createElement("p"), { className: "text quiet", textContent: text });
  }
  // Warnings are read before a go is given, and goes before a mark, as the server has it.
  function paintPresses(band, card, now) {
    const put = (place, text) => { if (place.textContent !== text) place.textContent = text; };
    const personOf = (each) => each.value.split(":")[1];
    const [readers, goes] = [all("[data-first-of-all]", card), all("[data-second]", card)];
    const given = (each) => (readers.includes(each) ? now.read.has(personOf(each)) : now.answers.get(personOf(each)) !== "none");
    for (const each of [...readers, ...goes]) {
      each.disabled = given(each);
      put(each, each.disabled && readers.includes(each) ? `✓ ${each.dataset.label}` : each.dataset.label);
    }
    for (const each of goes) each.hidden = each.disabled;
    for (const item of now.kept.filter((each) => ["go", "no-go"].includes(doing(each)))) {
      const line = card.querySelector(`[data-caller="${CSS.escape(whom(item))}"]`);
      const reason = field(item, "reason");
      line.className = doing(item);
      put(line.firstChild, doing(item) === "go" ? "✓" : "✕");
      put(line.lastChild, `${whom(item)}: ${doing(item) === "go" ? "go" : "NO-GO"} ${outboxPanel.when(item)}${reason && `: ${reason}`}, kept here`);
    }
    const kept = new Set(now.kept.map(whom));
    for (const each of all("[data-caller]", card)) if (!kept.has(each.dataset.caller)) put(each.lastChild, each.lastChild.dataset.label);
    const against = [...now.answers].filter(([, said]) => said === "no-go").map(([person]) => person);
    const barred = card.querySelector("[data-barred]");
    [barred.hidden, barred.textContent] = [!against.length, `${against.join(" and ")} no-go: the hold stands.`];
    for (const each of all("[data-lift]", card)) each.hidden = !against.includes(each.dataset.lift);
    paintMain(band, card, now, [...readers, ...goes].filter((each) => !each.disabled), against.length > 0);
  }
  function paintMain(band, card, now, waits, barred) {
    const next = card.querySelector("[data-count-next]");
    if (next) {
      const of = Number(card.dataset.of);
      const number = Math.min(now.counted + 1, of);
      [next.value, next.textContent] = [`count:${number}`, `${number} of ${of}`];
      card.querySelector(".count-words").textContent = `${now.counted} of ${of} done, as far as is known here`;
    }
    const counted = now.counted > 0 && now.counted >= Number(card.dataset.of);
    for (const each of all("[data-done], [data-all]", card)) each.disabled = waits.length > 0 || barred || now.called || (counted && each === next);
    const confirm = card.querySelector("[data-third]");
    if (confirm) [confirm.hidden, confirm.disabled] = [!now.called, now.called && now.confirmed];
    const accept = card.querySelector("[data-accept]");
    if (accept) accept.hidden = !now.out;
    const own = waits.find((each) => each.value === `acknowledge:${band.getAttribute("aria-label")}`);
    const main = own ?? waits[0] ?? [...all("[data-done], [data-all]", card), confirm].find((each) => each && !each.disabled && !each.hidden);
    for (const each of all("button[name=do]", card)) {
      each.classList.toggle("do", each === main);
      each.toggleAttribute("data-main", each === main);
    }
  }

  // ---- what the station can know by itself: a value that the step records is missing, or is out of tolerance
  const typed = (value) => value.trim().replaceAll("−", "-").replaceAll(",", ".");
  function refuses(form, submitter) {
    const step = /^(mark|count:(\d+))$/.exec(submitter?.value ?? "");
    const card = form.closest("article");
    if (!step || !card || (step[2] && Number(step[2]) < Number(card.dataset.of))) return "";
    const missing = all("[data-value]", form).find((each) => !/^[+-]?\d{1,12}(\.\d{1,9})?$/.test(typed(each.value)));
    missing?.focus();
    return missing ? `“${missing.name.slice("value:".length)}” needs a number before this is marked. Nothing is kept.` : "";
  }
  function isOut(form) {
    return all("[data-value]", form).some((each) => {
      const { low, high } = each.dataset;
      const value = typed(each.value);
      return value !== "" && ((low !== "" && Number(value) < Number(low)) || (high !== "" && Number(value) > Number(high)));
    });
  }

  const repaint = () => all(".band", document).forEach(paint);
  leadline.spare = { refuses, isOut, seq: () => have };
  outbox.listen(repaint);
  document.addEventListener("htmx:after:swap", repaint);
  setInterval(fetchCards, 500);
})();
