"use strict";
// Sends what is kept: first in first out, one at a time, by one tab of the browser. What the server refuses is set aside with
// its sentence, and the next one follows; what it can't say anything to waits.
(() => {
  const { leadline } = window;
  const { outbox, store } = leadline;
  const { state, load, changed, tellPage, waiting } = outbox;
  const body = document.body;
  const me = store.newKey(); // this tab
  const SEND_MS = 5_000; // longer than that is no answer, but where the link is known to live: it may be a slow one
  const WAITS_MS = [3_000, 6_000, 12_000]; // one after another while it is slow, all shorter than the lease
  const RETRY_MS = 2_000;
  const ASK_AGAIN_MS = 10_000; // whether somebody has signed in since
  const LEASE_MS = 15_000;
  const LATER = new Set([429, 502, 503, 504, 507]); // nothing was stored, or nobody knows; it may be later

  // Presses of somebody else wait until the one who is signed in says that they go under that name.
  const foreign = (item) => item.by !== body.dataset.me && !item.agreed;
  const sendable = () => waiting().find((item) => !foreign(item));
  let busy = false;
  let askedAt = -ASK_AGAIN_MS;
  async function send(now = false) {
    const early = state.stopped && now !== true && performance.now() - askedAt < ASK_AGAIN_MS;
    if (busy || early || !waiting().length) return;
    busy = true;
    try {
      if (!(await answers()) || !sendable() || !(await store.lease(me, LEASE_MS))) return;
      await load(); // Another tab may have sent them meanwhile.
      while (sendable() && (await store.lease(me, LEASE_MS)) && (await sendOne(sendable())));
      await store.release(me);
    } catch { /* the store failed, or the link did: the next beat tries again */ } finally {
      [busy, state.sending] = [false, null];
      load();
    }
  }

  // Asked before anything is sent, so that what is kept without a link was never tried, and can be taken back. After an
  // answer that did not come several ask at once: a browser holds up to six connections that may be as dead as the first.
  let slow = 0;
  const waitMs = () => WAITS_MS[slow];
  const noAnswer = () => { slow = leadline.isLost() ? 0 : Math.min(slow + 1, WAITS_MS.length - 1); };
  const askWho = () => fetch("/api/me", { cache: "no-store", signal: AbortSignal.timeout(waitMs()) });
  let asking = 1;
  async function answers() {
    askedAt = performance.now();
    try {
      const answer = await Promise.any(Array.from({ length: asking }, askWho));
      asking = 1;
      if (performance.now() - askedAt < WAITS_MS[0] / 2) slow = 0;
      if (answer.status === 401) return stop("sign-in");
      if (!answer.ok) return false;
      const { token, name } = await answer.json();
      leadline.takeToken(token);
      if ((name ?? "") !== outbox.shown()) leadline.refresh(); // The bar must say who it is.
      [body.dataset.me, state.stopped] = [name ?? "", ""];
      return true;
    } catch (error) {
      const isSlow = error.errors?.some((each) => each.name === "TimeoutError");
      asking = isSlow ? 3 : 1;
      if (isSlow) noAnswer();
      return false;
    }
  }
  function stop(why) {
    state.stopped = why;
    tellPage();
    return false;
  }

  // Whether the next one may follow.
  async function sendOne(chosen) {
    const item = await store.change(chosen.place, (stored) => (stored.state === "waiting" ? { ...stored, tried: stored.tried + 1 } : undefined));
    await changed();
    if (!item) return true; // Taken back, or sent by another tab.
    state.sending = item;
    tellPage();
    const form = new URLSearchParams([...item.fields, ["key", item.key], ["of", item.of]]);
    if (item.pressed !== null) form.set("pressed", item.pressed);
    const token = leadline.token();
    const answer = await fetch(`/runs/${item.run}/orders`, {
      method: "POST", body: form, cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(Math.max(SEND_MS, waitMs())),
      headers: { Accept: "application/json", "X-Leadline-Token": token },
    }).catch((error) => {
      if (error.name === "TimeoutError") noAnswer();
      throw error;
    });
    return judge(item, answer, await answer.json().catch(() => ({})), token);
  }
  async function judge(item, answer, said, token) {
    state.trouble = "";
    if (answer.ok && Number.isInteger(said.seq)) {
      await store.change(item.place, () => null);
      settle(item);
      await changed(item);
      return true;
    }
    if (answer.status === 401) return stop("sign-in");
    // Without a code it is the token, of a session that has ended; with another one it is tried again.
    if (answer.status === 403 && !said.code) {
      if (!(await answers())) return false;
      if (leadline.token() !== token) return true;
    }
    // What is no answer of ours, though it says 200, is of something that stands between.
    if (LATER.has(answer.status) || answer.ok || answer.status === 0) {
      state.trouble = said.detail ?? `Something answers in the server's place (${answer.status || "elsewhere"}).`;
      return false;
    }
    const sentence = said.detail ?? `The server answered ${answer.status}.`;
    await store.change(item.place, (stored) => ({ ...stored, state: "refused", sentence }));
    await changed();
    leadline.refresh();
    return true;
  }

  // ---- acknowledged: until the page has fetched what came of it, the step stays as it is shown
  function settle(item) {
    state.settling.push({ ...item, at: performance.now(), settled: true });
    leadline.refresh();
  }
  const ofMain = (event) => (event.detail?.ctx?.sourceElement?.id === "main" ? event.detail.ctx : null);
  let fetched = null; // {ctx, at}
  document.addEventListener("htmx:before:request", (event) => {
    if (ofMain(event)) fetched = { ctx: ofMain(event), at: performance.now() };
  });
  document.addEventListener("htmx:finally:request", (event) => {
    const ctx = ofMain(event);
    if (!ctx || ctx !== fetched?.ctx || ctx.status !== "swapped" || ctx.response.status >= 400) return;
    state.settling = state.settling.filter((item) => item.at > fetched.at);
    tellPage();
  });

  store.hear(({ settled }) => { // from another tab
    if (settled) settle(settled);
    load();
  });

  Object.assign(outbox, { send, foreign });
  leadline.onLink(() => send(true));
  for (const name of ["focus", "pageshow"]) addEventListener(name, () => send(true));
  setInterval(send, RETRY_MS);
  load().then(() => send(true));
})();
