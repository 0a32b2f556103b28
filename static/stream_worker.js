"use strict";
// One live stream for all tabs of this browser: over plain http it has six connections to a server, and each stream holds
// one for good. It knows which run each tab shows, relays what is told of it, and forgets tabs that went away silently.
importScripts(`stream.js${location.search}`);

const PING_MS = 5_000;
const FORGET_MS = 15_000; // a tab that the browser froze answers when it wakes, and is then known again
const DOUBT_EACH_MS = 1_000;
const NARROW_MS = 5_000; // a tab that goes from page to page is gone for a moment only

const tabs = new Map(); // port to {run, heardAt}
const newest = new Map(); // run to {tick, at}: its last tick with all figures told so far
const stream = new LiveStream(relay);
let narrowing = null;

function relay(message) {
  const run = message.data?.run;
  if (message.kind === "open") newest.clear(); // It begins with the whole state.
  if (message.kind === "tick") keep(run, message.data);
  for (const [port, tab] of tabs) {
    // Word of another run is a sign of life for every tab.
    port.postMessage(run === undefined || run === tab.run ? message : { kind: "beat", data: times(message.data) });
  }
}

function times({ server, steady_ms }) {
  return { server, steady_ms };
}

function keep(run, tick) {
  const figures = { ...newest.get(run)?.tick.figures, ...tick.figures };
  newest.set(run, { tick: { ...tick, figures }, at: performance.now() });
}

function wanted() {
  return [...tabs.values()].map((tab) => tab.run);
}

function watch() {
  clearTimeout(narrowing);
  narrowing = null;
  stream.watch(wanted());
}

function joined(port, run, fresh) {
  const known = tabs.get(port);
  tabs.set(port, { run, heardAt: performance.now() });
  if (known?.run !== run) watch();
  if (!fresh) return;
  port.postMessage({ kind: "hello" });
  if (stream.isSignedOut) port.postMessage({ kind: "signed-out" });
  const last = stream.isOpen && newest.get(run);
  if (!last) return;
  const since = performance.now() - last.at;
  const tick = { ...last.tick, utc: new Date(Date.parse(last.tick.utc) + since).toISOString() };
  tick.steady_ms += since;
  if (tick.running) tick.elapsed_ms += since * tick.rate;
  port.postMessage({ kind: "tick", data: tick });
}

function left(port) {
  tabs.delete(port);
  narrowing ??= setTimeout(watch, NARROW_MS);
}

self.addEventListener("connect", (event) => {
  const port = event.ports[0];
  port.addEventListener("message", ({ data }) => {
    if (data.leave) left(port);
    else joined(port, data.run, data.fresh);
    // All tabs doubt at once.
    if (data.doubt && performance.now() - stream.openedAt > DOUBT_EACH_MS) stream.open(true);
  });
  port.start();
});

setInterval(() => {
  for (const [port, tab] of tabs) {
    if (performance.now() - tab.heardAt > FORGET_MS) left(port);
    else port.postMessage({ kind: "ping" });
  }
}, PING_MS);
