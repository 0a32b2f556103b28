"use strict";
// What the live link shows: the clock, the figures, the turn-back time, and the state of the link itself in words. Figures
// come with each tick and are put in as text; changed parts are fetched by htmx and morphed into place (link.js).
(() => {
  const { leadline } = window;
  const body = document.body;
  if (body.dataset.live === undefined) return;
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const put = (place, text) => { if (place && place.textContent !== text) place.textContent = text; };
  const STALE_AFTER_MS = 20_000; // two heartbeats of ten seconds
  const OLD_AFTER_MS = 10_000; // the link stands, but no figures come
  const loaded = document.querySelector("[data-clock]")?.textContent.trim();
  const figures = { at: performance.now(), of: loaded || "when this page was loaded", told: false };

  const two = (n) => String(n).padStart(2, "0");
  function words(ms) {
    const seconds = Math.max(0, Math.floor(ms / 1000));
    return `${two(Math.floor(seconds / 3600))}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
  }

  // ---- the clock runs here from the server's elapsed time, against this browser's steady clock
  function paint() {
    const elapsed = leadline.elapsedMs();
    if (elapsed !== null) for (const place of all("[data-clock]")) put(place, words(elapsed));
    const utc = leadline.utcMs();
    if (utc !== null) put(document.getElementById("utc"), `UTC ${new Date(utc).toISOString().slice(11, 19)}`);
    paintTurnBack(leadline.isRunning() ? elapsed : null);
    paintLink();
  }

  // ---- the link: [mark, words, seconds that count on, class]. Only a new state is read out, not each second.
  function state() {
    const silent = leadline.silentMs();
    const old = performance.now() - figures.at;
    if (leadline.signedOut()) return ["○", "Signed out: ", null, "stale"];
    if (leadline.isLost()) {
      return silent > STALE_AFTER_MS ? ["○", "STALE: not connected", silent, "stale"] : ["○", "Not connected", silent, "lost"];
    }
    if (leadline.unknown()) return ["○", "The server does not know this run", null, "stale"];
    if (!figures.told) return ["○", "Connecting", null, ""];
    return old > OLD_AFTER_MS ? ["●", "Connected, but no figures", old, "lost"] : ["●", "Live", null, "live"];
  }

  function paintLink() {
    const place = document.getElementById("link");
    if (!place) return;
    const [mark, says, since, kind] = state();
    const last = kind === "live" || !kind ? "" : `Figures as of ${figures.of}`;
    if (place.dataset.says !== says) {
      place.dataset.says = says;
      place.replaceChildren(`${mark} ${says}`, ...(leadline.signedOut() ? [signIn()] : []), quiet(), ...(leadline.isLost() ? elsewhere() : []));
    }
    put(place.querySelector("[data-since]"), `${since === null ? "" : ` for ${Math.floor(since / 1000)} s`}${last && `. ${last}`}`);
    place.className = `link-state ${kind}`;
    body.classList.toggle("is-stale", kind !== "live" && kind !== "");
  }
  function quiet() { // A screen reader would otherwise read it out each second.
    const place = document.createElement("span");
    place.dataset.since = "";
    place.setAttribute("aria-hidden", "true");
    return place;
  }
  function elsewhere() { // The same page at another server of the database. What is kept here stays here: outbox_panel.js says so.
    return leadline.alsoAt.flatMap((origin, place) => {
      const link = document.createElement("a");
      link.href = origin + location.pathname + location.search;
      link.textContent = origin;
      return [place ? ", " : ". Also at ", link];
    });
  }
  function signIn() {
    const link = document.createElement("a");
    link.href = `/sign-in?next=${encodeURIComponent(location.pathname + location.search)}`;
    link.textContent = "sign in again";
    return link;
  }

  // ---- figures
  function take(tick) {
    [figures.at, figures.told] = [performance.now(), true];
    figures.of = tick.elapsed_ms === undefined ? `${tick.utc.slice(11, 19)} UTC` : words(tick.elapsed_ms);
    for (const place of all("[data-fig]")) {
      const text = tick.figures[place.dataset.fig];
      if (text !== undefined) put(place, text);
    }
    paint(); // A tick's own words of the turn-back may be a part of a second older than the clock that is shown.
    for (const place of all("[data-meter]")) {
      const passed = tick.meters[place.dataset.meter];
      if (passed === undefined) continue;
      place.setAttribute("width", `${Math.min(100, passed)}%`);
      place.classList.toggle("over", passed > 100);
    }
  }

  // ---- turn-back: it counts and turns by the clock of this page, so it goes on while the link is lost
  function lasts(seconds) { // as `duration` in core/times.py
    const [hours, minutes, rest] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
    const parts = hours ? [`${hours}h`, `${two(minutes)}m`] : minutes ? [`${minutes}m`] : [];
    if (rest || !parts.length) parts.push(parts.length ? `${two(rest)}s` : `${rest}s`);
    return parts.join(" ");
  }

  function paintTurnBack(elapsed) {
    const place = document.querySelector(".bar[data-phase]");
    if (place?.dataset.turnBack && elapsed !== null) {
      const now = Math.floor(elapsed / 1000);
      const left = Number(place.dataset.turnBack) - now;
      const phase = left < 0 ? "passed" : now >= Number(place.dataset.soonFrom) ? "soon" : "later";
      const text = left < 0 ? `${lasts(-left)} ago` : left ? `in ${lasts(left)}` : "now";
      for (const each of all('[data-fig="turn-back"]', place)) put(each, text);
      if (place.dataset.phase !== phase) place.dataset.phase = phase;
    }
    // Morphing leaves `hidden` alone, so what is hidden is always set here.
    for (const each of all("[data-in]")) {
      const hidden = each.dataset.in !== place?.dataset.phase;
      if (each.hidden !== hidden) each.hidden = hidden;
    }
  }

  leadline.lasts = lasts;
  leadline.onTick(take);
  leadline.onLink(paint);
  document.addEventListener("htmx:after:swap", paint);
  setInterval(paint, 200);
})();
