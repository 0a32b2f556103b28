"use strict";
// What this station keeps while the server is away: each press with its key and its elapsed time, first in first out, until
// the server has answered for it. It sends nothing (outbox_send.js), and judges nothing: the server does.
(() => {
  const { leadline } = window;
  const { store } = leadline;
  const { newKey } = store;
  const body = document.body;
  const keeps = new Set((body.dataset.keeps ?? "").split(" ").filter(Boolean));

  const state = {
    items: [], // as stored, in order
    settling: [], // acknowledged, but the page does not show it yet
    sending: null, // the one on its way from this tab
    stopped: "", // why nothing is sent: "sign-in"
    otherRun: false, // The server has another run under this page's number.
    trouble: "", // why the last try failed, in the server's words
  };
  const listeners = [];
  const tellPage = () => listeners.forEach((each) => each());
  async function load() {
    try {
      state.items = await store.all();
    } catch { /* what can't be opened shows nothing; keep() says so when it matters */ }
    tellPage();
  }
  async function changed(settled = null) {
    store.tell({ settled });
    await load();
  }

  // ---- a press

  // Until the stream has spoken, elapsed goes from what the page was made with.
  const madeWith = /^(\d+):(\d\d):(\d\d)$/.exec(document.querySelector("[data-clock]")?.textContent.trim() ?? "");
  const madeAt = performance.getEntriesByType("navigation")[0]?.responseStart || performance.now(); // A page may be long on its way.
  const madeZero = madeWith && madeAt - ((madeWith[1] * 60 + Number(madeWith[2])) * 60 + Number(madeWith[3])) * 1000;
  function elapsed() {
    const ms = leadline.elapsedMs() ?? (madeZero === null ? null : performance.now() - madeZero);
    return ms === null ? null : Math.max(0, Math.floor(ms / 1000));
  }

  const doingOf = (form, submitter) => submitter?.value || form.elements.do?.value || "";
  const isKept = (form, submitter) => leadline.run !== null && keeps.has(doingOf(form, submitter).split(":")[0]);
  const clean = (text) => (text ?? "").replace(/\s+/g, " ").trim();
  function words(form, submitter) {
    const who = form.closest(".band")?.getAttribute("aria-label");
    const step = form.elements.step?.value;
    const text = form.closest("[data-text]")?.dataset.text ?? (step && form.closest(".band")?.querySelector(".now > .marking .text")?.textContent);
    const near = form.closest("li, tr, article, details, section")?.querySelector("b, th, h2, summary")?.textContent;
    return clean([who, text || near].filter(Boolean).join(" · ")) + `: ${clean(submitter?.getAttribute("aria-label") ?? submitter?.textContent)}`;
  }
  // Who is shown to be signed in; without accounts nobody is.
  const shown = () => (document.querySelector(".bar .tools") ? document.querySelector(".bar .me a")?.textContent.trim() ?? "" : body.dataset.me);
  function pressOf(form, submitter) {
    const fields = [...new FormData(form, submitter)].filter(([name, value]) => typeof value === "string" && !["token", "have", "key"].includes(name));
    return {
      key: form.elements.key?.value || newKey(), run: leadline.run, of: body.dataset.of, by: shown(), fields,
      pressed: elapsed(), doing: doingOf(form, submitter), step: form.elements.step?.value ?? "", words: words(form, submitter),
      out: leadline.spare?.isOut(form) ?? false, doubt: leadline.clockJumped(), state: "waiting", sentence: "", tried: 0,
    };
  }

  // ---- presses that were sent and are not answered yet, in the order in which they were made
  let flying = []; // {form, press, next}
  const flightOf = (form) => flying.find((each) => each.form === form);
  function landed(form) {
    flying = flying.filter((each) => each.form !== form);
  }
  // One after another, in the order in which they were pressed.
  let turn = Promise.resolve();
  const inTurn = (work) => (turn = turn.then(work, work));
  const giveUp = () => inTurn(giveUpNow);
  // They may have arrived: then their keys say so when they are sent again.
  async function giveUpNow() {
    const late = flying;
    flying = [];
    let kept = true;
    for (const { form, press, next } of late) {
      window.htmx?.trigger(form, "htmx:abort");
      kept = (await keep(form, { ...press, tried: 1 })) && (!next || (await keep(form, { ...next, key: newKey() }))) && kept;
    }
    return kept;
  }
  // The next count, called before the last one was answered: its button still has the old number.
  function follows(form, submitter) {
    const flight = flightOf(form);
    const [, number, of] = /^(\d+) of (\d+)$/.exec(clean(submitter.textContent)) ?? [];
    if (!flight || flight.next || !(Number(number) < Number(of))) return;
    const next = pressOf(form, submitter);
    [next.doing, next.words] = [`count:${Number(number) + 1}`, next.words.replace(/\d+ of/, `${Number(number) + 1} of`)];
    next.fields = next.fields.map(([name, value]) => (name === "do" ? [name, next.doing] : [name, value]));
    flight.next = next;
  }

  const waiting = (run) => state.items.filter((item) => item.state === "waiting" && (run === undefined || item.run === run));
  // What becomes of a press: a promise of whether it was kept, or null: it goes to the server as ever.
  function takes(form, submitter) {
    if (state.otherRun || !isKept(form, submitter)) return null;
    const press = pressOf(form, submitter);
    const goesOn = form.closest(".spare");
    // A second press of a form whose first has no answer yet would carry the same key.
    if (!leadline.isLost() && !waiting(leadline.run).length && !goesOn && !flightOf(form)) {
      flying.push({ form, press });
      return null;
    }
    return inTurn(() => keepNow(form, press, goesOn ? submitter : null));
  }
  async function keepNow(form, press, submitter) {
    const again = flightOf(form) && !ONCE.test(press.doing) && same(flightOf(form).press) === same(press);
    if (flightOf(form)) press.key = newKey();
    await giveUpNow(); // first: what was said before, and is not answered yet, is what this is judged by
    const refusal = (submitter && leadline.spare?.refuses(form, submitter)) || twice(press);
    if (refusal) leadline.say(refusal);
    return !refusal && !again && keep(form, press);
  }
  // What is ordered at this moment may not be carried out at a later one: while the link is lost it is not even tried.
  function needsServer(form, submitter) {
    const isOrder = /\/orders$/.test(form.getAttribute("action") ?? "");
    if (isOrder && state.otherRun) {
      leadline.say("The server has another run under this number than this page shows. Nothing is done: load the page anew.");
      return true;
    }
    if (!isOrder || !leadline.isLost() || isKept(form, submitter)) return false;
    leadline.say(`“${clean(submitter?.textContent)}” needs the server: it is ordered at the moment it is entered, so it is not kept here. Nothing is done.`);
    return true;
  }
  const typed = (press) => fieldOf(press, "at").trim();
  // After a sleep, or a step of its clock, this station does not know how long it has been away.
  function timeless(press) {
    if (!press.doubt && press.pressed !== null) return "";
    press.pressed = null;
    if (/^\d+:\d\d(:\d\d)?$/.test(typed(press))) return "";
    return "This station slept, or its clock was set, while it was not connected, so it does not know the time. Type the elapsed time of the call (T), as 1:47:30, and press again. Nothing is kept yet.";
  }
  // What is pressed twice counts once, as long as it is still the last word: an answer until the same person's next one at
  // that hold or poll, an acceptance or a confirmation until the step is called anew.
  const ONCE = /^(mark|go|no-go|acknowledge|count|confirm|accept|not-needed|start|poll-go|poll-no-go)(:|$)/;
  const LAST_WORD = { go: "answer", "no-go": "answer", "poll-go": "answer", "poll-no-go": "answer", mark: "call", accept: "call", confirm: "call" };
  const fieldOf = (press, name) => press.fields.find(([each]) => each === name)?.[1] ?? "";
  const whomOf = (press) => press.doing.split(":")[1] ?? fieldOf(press, "person");
  function aboutOf(press) {
    const about = LAST_WORD[press.doing.split(":")[0]] ?? press.doing;
    return JSON.stringify([about, press.step || fieldOf(press, "poll"), about === "answer" && whomOf(press)]);
  }
  const same = (press) => JSON.stringify([press.run, ...press.fields.filter(([name]) => !["at", "from", "page", "heard"].includes(name))]);
  function twice(press) {
    const last = ONCE.test(press.doing) && waiting(press.run).filter((item) => aboutOf(item) === aboutOf(press)).at(-1);
    return last && same(last) === same(press) ? "This is kept here already, and counts once." : "";
  }

  async function keep(form, press) {
    if (form) leadline.answered?.(form);
    const unknown = timeless(press);
    if (unknown) {
      leadline.say(unknown);
      return false;
    }
    // Two tabs' clocks differ by milliseconds; what was pressed later was not done earlier.
    const before = waiting(press.run).at(-1)?.pressed ?? null;
    if (before !== null && press.pressed !== null && press.pressed < before && before - press.pressed <= 2) press.pressed = before;
    try {
      await store.add(press);
    } catch (error) {
      const why = error?.name ?? "no storage";
      // What was sent may have arrived, and what can be sent now soon will have: both are held until the server says so.
      if (leadline.isLost() && !press.tried) {
        leadline.say(`The server does not answer, and this browser can't keep the press (${why}): it is NOT taken. Write it down.`);
        return false;
      }
      store.hold(press, why);
    }
    if (form?.elements.key) form.elements.key.value = newKey(); // The next press of this form is another one.
    await changed();
    if (form) leadline.taken?.(form);
    leadline.outbox.send();
    return true;
  }

  // ---- what the person does with it
  // Only what was never sent: what was may be in the log, and is undone there. Another tab may just be sending it.
  const untried = (item) => item.state === "waiting" && item.tried === 0;
  // What became something else meanwhile, by another tab, is not dropped unseen.
  const unchanged = (item) => (stored) => stored.state === item.state && stored.tried === item.tried;
  const drop = (item, only = unchanged(item)) => store.change(item.place, (stored) => (only(stored) ? null : undefined)).then(() => changed());
  const change = (item, how) => store.change(item.place, (stored) => ({ ...stored, ...how })).then(() => changed()).then(() => leadline.outbox.send(true));
  function note({ place, ...item }, text) {
    const fields = [["do", "note"], ["step", item.step], ["reason", text]].filter(([, value]) => value);
    const now = item.run === leadline.run ? elapsed() : item.pressed;
    return keep(null, { ...item, key: newKey(), by: shown(), agreed: false, pressed: now, doing: "note", fields, words: `Note: ${text}`, state: "waiting", sentence: "", tried: 0 });
  }

  let goesToSignIn = false;
  // Closing the tab, or going to a page that can't be had, while presses wait.
  addEventListener("beforeunload", (event) => {
    const reloads = document.getElementById("reload")?.childElementCount;
    if ((!waiting().length && !flying.length) || goesToSignIn || reloads) return;
    event.preventDefault();
    event.returnValue = ""; // for browsers that still want it
  });

  leadline.outbox = {
    state, load, changed, tellPage, waiting, // for outbox_send.js
    takes, needsServer, follows, landed, giveUp, newKey, isKept, typed, change, drop, note,
    takeBack: (item) => drop(item, untried),
    canTakeBack: (item) => untried(item) && item.place !== state.sending?.place,
    isFlying: (form) => Boolean(flightOf(form)),
    flight: (form) => flightOf(form)?.press,
    fieldOf, whomOf, shown,
    signingIn: () => { goesToSignIn = true; },
    of: (run) => [...state.settling, ...state.items].filter((item) => item.run === run && item.state === "waiting"),
    listen: (each) => listeners.push(each),
  };
  leadline.onLink((lost) => lost && giveUp());
})();
