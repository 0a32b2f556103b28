"use strict";
// The sound of the turn-back alarm: three short beeps every ten seconds as long as the alarm stands on this page and
// the sound is on. It reads off the bar that the alarm stands; it tells no time and changes nothing else.
(() => {
  const KEY = "leadline-alarm-sound"; // "off", or anything else for on
  const LOOK_EVERY_MS = 200;
  // The sound: our own choice, no source.
  const BEEPS_EVERY_MS = 10_000;
  const BEGIN_S = [0, 0.3, 0.6];
  const LASTS_S = 0.18;
  const PITCH_HZ = 880;
  const VOLUME = 0.3; // of 1
  const WAKING_MS = 600; // a context that may sound at once does so within this time

  let on = true;
  let context = null;
  let askedAt = 0;
  let soundedAt = -Infinity;

  function read() {
    try { on = localStorage.getItem(KEY) !== "off"; } catch { /* without storage it is on */ }
  }
  function turn() {
    on = !on;
    soundedAt = -Infinity;
    try { localStorage.setItem(KEY, on ? "on" : "off"); } catch { /* the choice lasts for this page */ }
    look();
  }

  // A past moment and an ended run have no such button, and so no sound.
  const button = () => document.querySelector("[data-sound]");
  const stands = () => document.querySelector('.bar[data-phase="passed"] [data-sound]') !== null;
  const sounds = () => context !== null && context.state === "running";

  // A browser lets a page sound only after a press on it, unless the screen was set up otherwise.
  function wake() {
    if (!on || !button() || !window.AudioContext) return;
    if (!context) [context, askedAt] = [new AudioContext(), performance.now()];
    if (!sounds()) context.resume().catch(() => {});
  }

  function beep() {
    soundedAt = performance.now();
    const volume = context.createGain();
    volume.gain.value = VOLUME;
    volume.connect(context.destination);
    for (const after of BEGIN_S) {
      const tone = context.createOscillator();
      tone.frequency.value = PITCH_HZ;
      tone.connect(volume);
      tone.start(context.currentTime + after);
      tone.stop(context.currentTime + after + LASTS_S);
    }
  }

  function look() {
    const asked = on && stands();
    if (asked && !context) wake();
    if (asked && sounds() && performance.now() - soundedAt >= BEEPS_EVERY_MS) beep();
    paint(asked && !sounds() && performance.now() - askedAt > WAKING_MS);
  }

  function paint(locked) {
    const place = button();
    if (place && (place.hidden || place.getAttribute("aria-pressed") !== String(on))) {
      place.hidden = false;
      place.setAttribute("aria-pressed", String(on));
      place.querySelector("[data-sound-words]").textContent = on ? "on" : "off";
    }
    const words = document.querySelector("[data-sound-locked]");
    if (words && words.hidden === locked) words.hidden = !locked;
  }

  for (const kind of ["pointerdown", "pointerup", "keydown"]) document.addEventListener(kind, wake, true);
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-sound]")) turn();
  });
  window.addEventListener("storage", read); // Another page of this station switched it.
  read();
  look();
  setInterval(look, LOOK_EVERY_MS);
})();
