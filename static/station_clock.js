"use strict";
// How far this station's clock is from the server's, by RFC 5905, 8, and the sentence that says so. Leadline itself goes by
// the server's: nothing is set by this, and nothing else reads this station's clock.
(() => {
  const { leadline } = window;
  const SAMPLES = 8; // as the clock filter of RFC 5905, 10
  const FIRST_MS = 400; // between the first samples: own choice, as is the pace after them
  const FIRST = 4;
  const THEN_MS = 30_000;
  const LATER_MS = 1_000;
  const LATE_MS = 3_000;
  const WORTH_ASKING_MS = 1_000;
  const WORTH_SAYING_MS = 500;
  const DRIFT_MS = 50; // what two good clocks may go apart while eight samples are kept
  const GIVE_UP_MS = 5_000;

  // t1, t4: asked and answered by this station's clock; t2, t3: received and sent by the server's. All of one unit, and so
  // the answer: theta, what the server's clock is ahead, is wrong by delta / 2 at most.
  function offset(t1, t2, t3, t4) {
    return { theta: ((t2 - t1) + (t3 - t4)) / 2, delta: (t4 - t1) - (t3 - t2) };
  }

  // The sample of least delta of the last eight. Two samples that can't both be true mean that a clock was set.
  let samples = [];
  function keep(sample) {
    const known = best(samples);
    const apart = known && Math.abs(sample.theta - known.theta) > (sample.delta + known.delta) / 2 + DRIFT_MS;
    samples = apart ? [sample] : [...samples, sample].slice(-SAMPLES);
    return best(samples);
  }
  const best = (all) => all.reduce((least, each) => (least && least.delta <= each.delta ? least : each), null);

  function span(ms) {
    return ms < 59_950 ? `${(ms / 1000).toFixed(1)} s` : leadline.lasts(Math.round(ms / 1000));
  }
  function says({ theta, delta }) {
    const off = Math.abs(theta);
    if (off <= WORTH_SAYING_MS || off <= delta / 2) return "";
    const error = Math.max(0.01, delta / 2000).toFixed(2);
    return `This station's clock is ${span(off)} ${theta > 0 ? "behind" : "ahead of"} the server's (± ${error} s). Leadline goes by the server's.`;
  }
  function paint(found) {
    const place = document.getElementById("station-clock");
    const text = says(found);
    if (!place) return;
    if (place.textContent !== text) place.textContent = text;
    place.hidden = !text;
  }

  let askedAt = -Infinity;
  async function sample() {
    const asked = askedAt = performance.now();
    const t1 = Date.now();
    const answer = await fetch("/api/time", { cache: "no-store", signal: AbortSignal.timeout(GIVE_UP_MS) });
    const took = performance.now() - asked; // by the steady clock: the other may be set meanwhile
    if (!answer.ok) return;
    const { received_ms: t2, sent_ms: t3, server, steady_ms } = await answer.json();
    leadline.serverSaid(server, steady_ms, asked);
    paint(keep(offset(t1, t2, t3, t1 + took)));
  }

  let count = 0;
  async function go() {
    // A hidden page needs no sentence, and while nothing comes there is nobody to ask.
    if (document.hidden || leadline.arrivedMs() > LATE_MS || leadline.signedOut()) return setTimeout(go, LATER_MS);
    count += 1;
    try {
      await sample();
    } catch { /* the next one */ }
    setTimeout(go, count < FIRST ? FIRST_MS : THEN_MS);
  }
  // An answer to a question tells whether words come late, or the server's machine stood still for a while.
  leadline.onTick(() => {
    if (leadline.lateMs() > WORTH_ASKING_MS && performance.now() - askedAt > LATE_MS) sample().catch(() => {});
  });

  Object.assign(leadline, { offset, best });
  if (document.body.dataset.live !== undefined) go();
})();
