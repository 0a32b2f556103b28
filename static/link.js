"use strict";
// The page's side of the live link, as `window.leadline`: what the stream says, how long it is silent, where elapsed
// stands, and that the page catches up with the log. It paints nothing (figures.js) and keeps no press (outbox.js).
(() => {
  const body = document.body;
  const main = document.getElementById("main");
  const version = new URL(document.currentScript.src).search;
  const watched = body.dataset.live === undefined ? null : Number(body.dataset.run); // 0 is Home
  const LOST_AFTER_MS = 3_000;
  const JUMP_MS = 2_000;
  const DOUBT_EACH_MS = 3_000;
  const ANEW_EACH_MS = 30_000;
  const now = () => performance.now();

  // ---- silence: how old the newest word of the server is, be it that none comes or that they come late
  const heard = { at: now(), wall: Date.now(), arrivedAt: now(), late: 0, slept: false, signedOut: false, unknown: false };
  const silentMs = () => now() - heard.at;
  const isLost = () => silentMs() > LOST_AFTER_MS;
  // Sleep, or a step of this station's clock: both clocks should have gone on by the same. What comes after it may have
  // been sent before it, so only a stream that is opened anew ends it.
  const clockJumped = () => heard.slept || Math.abs(Date.now() - heard.wall - silentMs()) > JUMP_MS;
  function hear(late) {
    heard.slept = clockJumped();
    [heard.arrivedAt, heard.late] = [now(), late];
    if (now() - late > heard.at) [heard.at, heard.wall] = [now() - late, Date.now() - late];
  }

  const ofLink = [];
  const ofTick = [];
  const call = (list, said) => list.forEach((each) => { try { each(said); } catch (error) { console.error(error); } });
  let wasLost = false;
  function tellLink(always = false) {
    const lost = isLost();
    if (always || lost !== wasLost) {
      wasLost = lost;
      call(ofLink, lost);
    }
  }

  // ---- elapsed and UTC: how far each is from the server's steady clock, which the page knows (server_clock.js)
  const clock = new ServerClock();
  const utc = { less: null };
  // Elapsed gains `rate` on that clock, which is 1 but in a rehearsal whose clock is stopped or sped up.
  const elapsed = { at: null, ms: 0, rate: 1, running: true };
  const at = (less) => (less === null || clock.zero === null ? null : clock.read() + less);
  function takeTimes(data) {
    if (data.utc) utc.less = Date.parse(data.utc) - data.steady_ms;
    if (data.elapsed_ms === undefined) return;
    Object.assign(elapsed, { at: data.steady_ms, ms: data.elapsed_ms, rate: data.rate, running: data.running });
  }
  // The clock of another server's process begins elsewhere: what was known stands until that one has said its own.
  function onClock(read) {
    const [server, was, wasUtc] = [clock.server, clock.read(), at(utc.less)];
    const late = read();
    if (server === null || server === clock.server) return late;
    if (wasUtc !== null) utc.less = wasUtc - clock.read();
    if (elapsed.at !== null) elapsed.at += clock.read() - was;
    return late;
  }
  function elapsedMs() {
    if (!elapsed.running) return elapsed.ms;
    return elapsed.at === null || clock.zero === null ? null : elapsed.ms + (clock.read() - elapsed.at) * elapsed.rate;
  }

  // ---- catching up: parts are fetched until a fetch that began after the last news has come back whole
  const RETRY_MS = 1_000;
  const FETCH_MS = 10_000;
  const news = { count: 0, seq: Number(body.dataset.seq ?? 0), caught: 0, shownSeq: Number(body.dataset.seq ?? 0), view: undefined, anew: false };
  let asking = null;
  let again = null;
  function refresh() {
    news.count += 1;
    fetchParts();
  }
  function fetchParts() {
    clearTimeout(again);
    again = null;
    if (main) window.htmx?.trigger(main, "runchanged");
  }
  const ofMain = (event) => event.detail?.ctx?.sourceElement === main && event.detail.ctx;
  document.addEventListener("htmx:before:request", (event) => {
    const ctx = ofMain(event);
    if (!ctx) return;
    const giveUp = setTimeout(() => ctx.request.abort(), FETCH_MS); // It may hang on a link that was lost.
    asking = { ctx, giveUp, count: news.count, seq: news.seq };
  });
  document.addEventListener("htmx:finally:request", (event) => {
    const ctx = ofMain(event);
    if (!ctx || asking?.ctx !== ctx) return;
    const { count, seq, giveUp } = asking;
    clearTimeout(giveUp);
    asking = null;
    if (ctx.status === "swapped" && ctx.response.status < 400) [news.caught, news.shownSeq] = [count, seq];
    else again = setTimeout(owe, RETRY_MS * (1 + Math.random()));
    if (!again) owe(); // There may be more news since it was asked.
  });
  // While the link is lost nothing is fetched: the first word after it comes here again.
  function owe() {
    again = null;
    if (news.caught < news.count && !asking && !isLost()) fetchParts();
  }

  // ---- what the stream says
  function take({ kind, data, again: reopened }) {
    if (kind === "signed-out") heard.signedOut = true;
    if (kind === "open") opened(reopened);
    if (!["tick", "changed", "beat", "unknown"].includes(kind)) return tellLink();
    const back = isLost();
    hear(data.server === undefined ? 0 : onClock(() => clock.take(data.server, data.steady_ms)));
    if (kind === "unknown") heard.unknown = true;
    if (kind === "changed" && (watched === 0 || data.seq > news.seq)) {
      news.seq = data.seq;
      refresh();
    }
    if (data.server !== undefined) takeTimes(data);
    if (kind === "tick") takeTick(data);
    tellLink(back);
    // Word of another tab's run, which comes as a beat without a time, is no reason: ours follows.
    if (!again && (kind !== "beat" || data.utc)) owe();
  }
  function opened(reopened) {
    const returned = heard.signedOut;
    heard.signedOut = heard.unknown = false;
    if (reopened) {
      heard.slept = false;
      [heard.at, heard.wall] = [now(), Date.now()];
      asking?.ctx.request.abort();
      news.anew = true; // Another server perhaps, with a shorter log: its word counts.
    }
    if (reopened || watched === 0) news.count += 1;
    if (returned) freshToken();
    call(ofLink, isLost());
  }
  function takeTick(tick) {
    const [seq, view] = [tick.seq ?? 0, tick.view];
    if (seq > news.seq || (news.view !== undefined && view !== news.view)) news.count += 1;
    [news.seq, news.view, news.anew] = [news.anew ? seq : Math.max(seq, news.seq), view, false];
    call(ofTick, tick);
  }

  // Whoever signed in anew, in another tab perhaps, has another token; the forms that stand here take it over.
  function takeToken(token) {
    if (token === body.dataset.token) return;
    body.dataset.token = token;
    for (const field of document.querySelectorAll("form input[name=token]")) field.value = token;
  }
  async function freshToken() {
    try {
      const answer = await fetch("/api/me", { cache: "no-store" });
      if (!answer.ok) return;
      takeToken((await answer.json()).token);
    } catch { /* the next press says it */ }
  }

  // ---- the stream of this browser, in a worker that all tabs share; without such a worker this page holds its own
  const WORKER_MS = 3_000; // to the worker's first word; not every browser says that it could not load one
  const WORKER_SILENT_MS = 20_000; // it pings every five seconds
  let port = null;
  let own = null;
  let greeted = false;
  let spokenAt = now();

  function join(fresh) {
    try {
      const worker = new SharedWorker(`/static/stream_worker.js${version}`);
      worker.addEventListener("error", holdOwn);
      port = worker.port;
    } catch {
      return holdOwn();
    }
    port.addEventListener("message", ({ data }) => {
      spokenAt = now();
      greeted = true;
      if (data.kind === "ping") port?.postMessage({ run: watched });
      else take(data);
    });
    port.start();
    spokenAt = now();
    port.postMessage({ run: watched, fresh });
  }
  function leave() {
    port?.postMessage({ leave: true });
    port?.close();
    port = null;
    own?.close();
  }
  function holdOwn() {
    if (own) return;
    leave();
    own = { close() {}, open() {} }; // until its script is there
    const script = document.createElement("script");
    script.src = `/static/stream.js${version}`;
    script.addEventListener("load", () => {
      own = new LiveStream((message) => message.data?.run !== undefined && message.data.run !== watched || take(message));
      own.watch([watched]);
    });
    script.addEventListener("error", () => {
      own = null;
      setTimeout(holdOwn, 2_000);
    });
    document.head.append(script);
  }
  function doubt() {
    if (port) port.postMessage({ run: watched, doubt: true });
    else own?.open(true);
  }

  let doubtedAt = -Infinity;
  function watchOver() {
    tellLink();
    // Words queue up on a link that is too slow for them; on a new stream the newest comes first.
    const after = clockJumped() ? DOUBT_EACH_MS : heard.late > LOST_AFTER_MS ? ANEW_EACH_MS : Infinity;
    if (now() - doubtedAt > after) {
      doubtedAt = now();
      doubt();
    }
    if (!port) return;
    if (!greeted && now() - spokenAt > WORKER_MS) holdOwn();
    else if (now() - spokenAt > WORKER_SILENT_MS) {
      leave();
      join(false);
    }
  }

  // Other servers of the same database, to which a page may go that has lost this one.
  const alsoAt = (body.dataset.alsoAt ?? "").split(" ").filter((each) => each && each !== location.origin);

  window.leadline = {
    run: watched || null,
    alsoAt,
    elapsedMs, silentMs, isLost, clockJumped, refresh,
    isRunning: () => elapsed.running,
    utcMs: () => at(utc.less),
    arrivedMs: () => now() - heard.arrivedAt,
    lateMs: () => heard.late,
    serverSaid: (server, ms, askedAt) => onClock(() => clock.answered(server, ms, askedAt)),
    seq: () => news.shownSeq,
    lastSeq: () => news.seq,
    signedOut: () => heard.signedOut,
    unknown: () => heard.unknown,
    token: () => body.dataset.token ?? "",
    takeToken,
    onLink: (each) => ofLink.push(each),
    onTick: (each) => ofTick.push(each),
  };

  if (watched !== null) {
    join(true);
    setInterval(watchOver, 500);
    // A tab that the browser had frozen may have been forgotten.
    document.addEventListener("visibilitychange", () => document.hidden || port?.postMessage({ run: watched }));
    addEventListener("pagehide", leave);
    addEventListener("pageshow", (event) => {
      if (!event.persisted) return;
      if (own) own.open(true);
      else join(true);
      refresh();
    });
  }
  const reload = document.getElementById("reload");
  if (reload) new MutationObserver(() => location.reload()).observe(reload, { childList: true });
})();
