"use strict";
// The server's steady clock as this page knows it, in milliseconds. Each message and answer carries what that clock showed.
// It can only come late, so of all readings the earliest is the truest: the page knows how old each word is, and a slow
// link sets nothing back.
class ServerClock { // for link.js
  static DRIFT = 0.0005; // two steady clocks go apart by less: RFC 5905 lets none be slewed by more (MAXFREQ, 500 PPM)
  static SLACK_MS = 100; // what the rounding of a browser's clock and a busy moment may be

  constructor() {
    this.server = null; // the process whose clock it is
    this.zero = null; // what this page's clock showed when the server's was at zero, or later
    this.takenAt = 0;
  }

  // One reading, had now. How late it is by the truest so far, in milliseconds.
  take(server, ms, at = performance.now()) {
    const found = at - ms;
    const known = this.server === server ? this.zero + (at - this.takenAt) * ServerClock.DRIFT : Infinity;
    [this.server, this.zero, this.takenAt] = [server, Math.min(found, known), at];
    return found - this.zero;
  }

  // One reading that the server made after it was asked: if it shows less than it should have by then, that clock stood
  // still for a while, as a machine's that was paused, and what was known of it is worth nothing.
  answered(server, ms, askedAt, at = performance.now()) {
    this.take(server, ms, at);
    if (this.zero < askedAt - ms - ServerClock.SLACK_MS) this.zero = at - ms;
  }

  read() {
    return this.zero === null ? null : performance.now() - this.zero;
  }
}
