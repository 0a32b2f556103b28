"use strict";
// The one live stream: opens it, opens it anew for as long as it takes, and hands on what it says. It shows nothing.
// A browser gives up on a stream that was answered with an error, and waits for ever on a link that fell silent without
// a word; so it is closed and opened here, at a pace that spares a server to which many screens come back at once.
class LiveStream { // for stream_worker.js, or link.js where there is no such worker
  static MOST_RUNS = 32; // as the server takes them
  static SILENT_MS = 20_000; // two heartbeats of ten seconds
  static CONNECT_MS = 5_000; // the server answers at once, before it has looked anything up
  static FIRST_WAIT_MS = 250; // doubled from try to try
  static LONGEST_WAIT_MS = 4_000;
  static SPREAD_MS = 1_000; // and up to this on top, by chance
  static OTHERS = 5; // of the six connections to one server
  static PROBE_MS = 2_500;
  static JUMP_MS = 2_000; // steady and wall clock went apart: this machine slept

  // `tell(message)`: {kind: "open", again}, {kind: "signed-out"}, or {kind: "tick" | "changed" | "beat" | "unknown", data}
  constructor(tell) {
    this.tell = tell;
    this.runs = "";
    this.source = null;
    this.isOpen = false;
    this.isSignedOut = false;
    this.again = false;
    this.openedAt = -Infinity;
    this.tries = 0;
    this.waiting = null;
    this.hear();
    setInterval(() => this.look(), 1_000);
  }

  hear() {
    this.heardAt = performance.now();
    this.heardWall = Date.now();
  }

  // What to listen to: an array of run numbers, 0 for Home. None closes the stream.
  watch(runs) {
    const wanted = [...new Set(runs)].slice(0, LiveStream.MOST_RUNS).sort((a, b) => a - b).map((run) => `run=${run}`).join("&");
    if (wanted === this.runs) return;
    this.runs = wanted;
    this.open();
  }

  // `again`: what was heard before may have gaps. It holds until a stream stands, whoever opens it first.
  open(again = false) {
    this.again ||= again;
    this.close();
    if (!this.runs) return;
    this.hear();
    this.openedAt = performance.now();
    const source = this.source = new EventSource(`/api/live?${this.runs}`);
    source.addEventListener("open", () => this.opened());
    source.addEventListener("error", () => this.lost());
    for (const kind of ["tick", "changed", "beat", "unknown"]) {
      source.addEventListener(kind, (event) => this.heard(kind, event));
    }
  }

  opened() {
    this.hear();
    this.isOpen = true;
    this.isSignedOut = false;
    this.tell({ kind: "open", again: this.again });
    this.again = false;
  }

  heard(kind, event) {
    if (this.slept()) return this.anew(); // This may have been sent before the sleep.
    this.hear();
    this.tries = 0;
    this.tell({ kind, data: JSON.parse(event.data) });
  }

  // Opened anew in a while. `source` is closed first, so that its own second try never meets ours.
  lost() {
    const refused = !this.isOpen;
    this.close();
    if (!this.runs) return;
    this.again = true;
    const wait = Math.min(LiveStream.LONGEST_WAIT_MS, LiveStream.FIRST_WAIT_MS * 2 ** this.tries);
    this.tries = Math.min(this.tries + 1, 10);
    this.waiting = setTimeout(() => this.open(), wait + Math.random() * LiveStream.SPREAD_MS);
    if (refused) this.askWho();
  }

  // A stream that was refused does not say why. Only a session that has ended is worth saying; the rest passes.
  async askWho() {
    try {
      const answer = await fetch("/api/me", { cache: "no-store" });
      if (answer.status !== 401 || this.isOpen) return;
      this.isSignedOut = true;
      this.tell({ kind: "signed-out" });
    } catch { /* no server */ }
  }

  look() {
    if (!this.source) return;
    const silent = performance.now() - this.heardAt;
    if (this.slept() || silent > (this.isOpen ? LiveStream.SILENT_MS : LiveStream.CONNECT_MS)) this.anew();
  }

  slept() {
    return Math.abs(Date.now() - this.heardWall - (performance.now() - this.heardAt)) > LiveStream.JUMP_MS;
  }

  anew() {
    this.lost();
    this.probe();
  }

  // The browser keeps idle connections for its next requests, and those may be as dead as the one that fell silent; each
  // would cost a try. So as many requests as there may be others take them, and are given up together with them.
  probe() {
    for (let n = 0; n < LiveStream.OTHERS; n += 1) {
      fetch("/api/time", { cache: "no-store", signal: AbortSignal.timeout(LiveStream.PROBE_MS) }).catch(() => {});
    }
  }

  close() {
    clearTimeout(this.waiting);
    this.source?.close();
    this.source = null;
    this.isOpen = false;
  }
}
