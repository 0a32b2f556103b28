"use strict";
// What a page is of: which run, and who is signed in. Every order of the page says which run it is of, and what may be entered
// late when it was pressed. A page of another run than the server's is loaded anew. It keeps nothing.
(() => {
  const { leadline } = window;
  const { outbox } = leadline;
  const body = document.body;
  const isOrder = (form) => /\/orders$/.test(form?.getAttribute("action") ?? "");

  // The first try may hang on the way, or at the server, and arrive in the end: then it counts, at the time of its press.
  // While words come late, be it by the link or because that machine stood still, when it arrives is known better.
  const LATE_MS = 1_000;
  document.addEventListener("htmx:config:request", ({ detail: { ctx } }) => {
    const form = ctx.sourceElement?.closest?.("form[method=post]");
    if (!body.dataset.of || !isOrder(form)) return;
    ctx.request.body.set("of", body.dataset.of);
    const press = outbox.flight(form);
    const knows = press && !press.doubt && press.pressed !== null && leadline.elapsedMs() !== null && leadline.lateMs() < LATE_MS;
    if (knows) ctx.request.body.set("pressed", press.pressed);
  });

  // ---- the run: the server may have been put on other data, on which another run has this number
  const SAID = "leadline-said";
  const ANEW = "The server has another run under this number than this page showed, so the page was loaded anew. Nothing that was pressed on the old page is in this run.";
  let leaving = false;
  const isOther = (of) => Boolean(of && body.dataset.of && of !== body.dataset.of);
  leadline.onTick(({ of }) => isOther(of) && leave());
  document.addEventListener("htmx:after:request", (event) => {
    const { ctx } = event.detail;
    if (!isOther(ctx.response?.headers?.get("X-Leadline-Of"))) return;
    if (ctx.sourceElement?.id === "main") event.preventDefault(); // What is another run's is not shown here.
    leave();
  });
  async function leave() {
    if (leaving) return;
    outbox.state.otherRun = true; // Nothing is pressed here any more.
    await outbox.giveUp();
    // What only this page holds would be lost with it; it is refused, and then the person's to drop.
    if (leaving || outbox.state.items.some((item) => item.unstored)) return;
    leaving = true;
    try {
      sessionStorage.setItem(SAID, ANEW);
    } catch { /* then it is not said */ }
    document.getElementById("reload")?.append(document.createElement("i")); // link.js loads the page anew
  }
  addEventListener("DOMContentLoaded", () => {
    try {
      const said = sessionStorage.getItem(SAID);
      sessionStorage.removeItem(SAID);
      if (said) leadline.say(said);
    } catch { /* nothing to say */ }
  });

  // ---- the person: another one may have signed in in another tab. The bar comes with the name and token of the new session.
  const tokenOf = () => document.querySelector(".bar [data-sign-out] [name=token]")?.value;
  let seen = [outbox.shown(), tokenOf()];
  document.addEventListener("htmx:after:swap", () => {
    const [name, token] = [outbox.shown(), tokenOf()];
    if (name === seen[0] && token === seen[1]) return;
    seen = [name, token];
    body.dataset.me = name;
    if (token) leadline.takeToken(token);
    outbox.tellPage();
  });
})();
