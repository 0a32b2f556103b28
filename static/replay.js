"use strict";
// Replay: plays, drags and steps a page of the past. It only asks the server for the parts of a moment, as a live page does
// for those of now; what a moment looks like the server alone knows. At most one request is under way, and of all moments
// that were wanted meanwhile the newest is asked for next.
(() => {
  const place = () => document.getElementById("replay");
  const main = document.getElementById("main");
  if (!place() || !main) return;
  const [play, speed, slider, typed, said, copy, asked, look] = ["replay-play", "replay-speed", "replay-slider", "replay-typed", "replay-said", "replay-copy", "replay-asked", "replay-look"]
    .map((id) => document.getElementById(id));
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const now = () => performance.now();

  const EACH_MS = matchMedia("(prefers-reduced-motion: reduce)").matches ? 1_000 : 200; // from one request to the next
  const LOOK_EACH_MS = 700; // a quarter of a second of it the server looks for where the lead turned
  const FRESH_MS = 1_000; // what was heard so lately of a run that goes on is taken to be so still
  const REFRESH_MS = 2_000; // and so often it is asked for anew while nothing is pressed
  const LATE_MS = 2_000; // an answer that takes longer is waited for, which is said
  const GIVE_UP_MS = 10_000;
  const GOES_ON_MS = 5_000; // a page that is reached so soon from one that played goes on playing
  const KEPT = "leadline-replay";

  const end = () => Number(place().dataset.end);
  const shown = () => Number(place().dataset.at);
  const isRunning = () => place().dataset.running !== undefined;
  const clock = (s) => [s / 3600, (s / 60) % 60, s % 60].map((each) => String(Math.floor(each)).padStart(2, "0")).join(":");
  // ---- asking: `wanted` is where the hand is, `under` what the request under way is about
  let [wanted, under, begun, askedAt, timer] = [shown(), null, false, -Infinity, null];
  // `anew`: the same moment is asked for once more, for a run that goes on has grown; `then` is done with that answer
  let [anew, then, answering] = [false, null, null];
  let [words, wordsUnder] = [null, null]; // a moment as it was typed, which the server reads, or says what is wrong with it
  let heardAt = now();
  const isFresh = () => now() - heardAt < FRESH_MS && wanted === shown();
  function askAnew(does = null) {
    anew = true;
    then = does ?? then;
    ask();
  }
  function want(second) {
    wanted = Math.max(0, Math.min(end(), Math.floor(second)));
    point();
    ask();
  }
  function point() { // the thumb and the field follow at once; the boards follow with the answer
    if (slider.value !== String(wanted)) slider.value = wanted;
    slider.setAttribute("aria-valuetext", clock(wanted));
    if (document.activeElement !== typed) typed.value = clock(wanted);
  }
  const looking = () => Boolean(document.querySelector("#replay-jumps[data-looking]"));
  function ask() {
    clearTimeout(timer);
    if (under !== null) return;
    const mayLook = wanted === shown() && looking() && !playing;
    if (wanted === shown() && !mayLook && !anew && words === null) return;
    const wait = askedAt + (mayLook && !anew ? LOOK_EACH_MS : EACH_MS) - now();
    if (wait > 0) return void (timer = setTimeout(ask, wait));
    askedAt = now();
    under = wanted;
    asked.value = words ?? clock(wanted);
    look.value = mayLook ? "1" : "";
    begun = false;
    window.htmx?.trigger(main, "momentasked");
    if (begun) return void ([answering, then, anew, wordsUnder, words] = [then, null, false, words, null]);
    under = null; // htmx has not come to this page yet
    timer = setTimeout(ask, EACH_MS);
  }
  const ofMain = (event) => event.detail?.ctx?.sourceElement === main && event.detail.ctx;
  document.addEventListener("htmx:config:request", (event) => { if (ofMain(event)) event.detail.ctx.request.timeout = GIVE_UP_MS; });
  document.addEventListener("htmx:before:request", (event) => { if (ofMain(event)) begun = true; });
  document.addEventListener("htmx:after:request", (event) => {
    const ctx = ofMain(event);
    if (!ctx) return;
    if (ctx.response.status >= 400) return fail(sentenceOf(ctx));
    if (wordsUnder !== null) {
      under = wanted = Number(/ data-at="(\d+)"/.exec(ctx.text)?.[1] ?? shown());
      typed.blur();
      restart();
    }
    const parameters = new URLSearchParams(location.search);
    parameters.delete("look");
    parameters.set("at", clock(under ?? wanted));
    // Before the parts are put in: a page that has other parts than this one is loaded anew, at this moment.
    history.replaceState(history.state, "", `?${parameters.toString().replaceAll("%3A", ":")}${location.hash}`);
  });
  document.addEventListener("htmx:error", (event) => ofMain(event) && fail("The server does not answer."));
  document.addEventListener("htmx:finally:request", (event) => {
    if (ofMain(event)) setTimeout(answered); // htmx asks for nothing more until it is done with this
  });
  function answered() {
    const next = failed ? null : answering;
    [under, answering, wordsUnder] = [null, null, null];
    if (failed) {
      [wanted, then, anew] = [shown(), null, false];
      restart();
    } else {
      heardAt = now();
      // What was said of the server, or of now, and is no longer so.
      if (troubled || said.textContent === WAITING || (said.textContent === NOW && end() - shown() > 10)) say("");
      troubled = false;
    }
    failed = false;
    slider.max = end();
    point();
    next?.();
    moveOn();
    ask();
  }
  const WAITING = "The server has not answered yet. This waits for it.";
  const NOW = "This is now. The run goes on: “Back to now” shows it live.";
  let [failed, troubled, leavingAt] = [false, false, -Infinity];
  addEventListener("beforeunload", () => { leavingAt = performance.now(); }); // What is under way then is cut off by the page itself.
  function fail(why) {
    if (performance.now() - leavingAt < 3_000) return;
    [failed, troubled] = [true, wordsUnder === null];
    if (troubled) stop();
    else typed.focus(); // a slip of the keys is no reason to stop
    say(`Not shown: ${why}`);
  }
  function sentenceOf({ response, text }) {
    if (response.status === 401) return "You are signed out. Load the page anew to sign in.";
    const page = new DOMParser().parseFromString(text, "text/html");
    return page.querySelector(".page-error .sentence")?.textContent.trim() || `the server answered with an error (${response.status}).`;
  }

  // Morphing leaves `hidden` alone, so the phase of the turn-back time is set here, as figures.js does on a live page.
  document.addEventListener("htmx:after:swap", () => {
    const phase = document.querySelector(".bar[data-phase]")?.dataset.phase;
    for (const each of all(".bar [data-in]")) each.hidden = each.dataset.in !== phase;
    place().querySelector(".no-script")?.setAttribute("hidden", "");
  });
  // ---- playing: the moment goes on by `speed` for each second, from where it was last set
  let playing = false;
  let from = { at: 0, moment: 0 };
  const restart = () => { from = { at: now(), moment: wanted }; };
  const due = () => from.moment + (now() - from.at) / 1000 * Number(speed.value);
  function moveOn() {
    if (!playing) return;
    if (shown() >= end() && due() >= end()) {
      if (isRunning() && !isFresh()) return askAnew();
      stop();
      say(isRunning() ? NOW : "This is the end of the run.");
      return;
    }
    if (Math.min(end(), Math.floor(due())) > wanted) want(due());
  }
  setInterval(() => {
    const isLate = under !== null && now() - askedAt > LATE_MS;
    if (isLate) say(WAITING);
    if (isLate && playing) restart(); // the thumb does not run away from the boards
    else moveOn();
    if (isRunning() && !playing && under === null && !document.hidden && now() - Math.max(heardAt, askedAt) > REFRESH_MS) askAnew();
  }, 100);
  function start() {
    if (shown() >= end() && !isRunning()) want(0);
    say("");
    playing = true;
    restart();
    paint();
  }
  function stop() {
    playing = false;
    paint();
    ask();
  }
  const toggle = () => (playing ? stop() : start());
  function go(second) { // by hand: playing goes on from there
    words = null;
    want(second);
    restart();
    say("");
  }
  function paint() {
    play.textContent = playing ? "❚❚ Pause" : "▶ Play";
    play.setAttribute("aria-pressed", String(playing));
    keep();
  }
  function say(text) {
    if (said.textContent !== text) said.textContent = text;
  }
  // ---- what goes along from page to page: the speed, and whether it plays; the moment is in the address
  function keep() {
    try {
      sessionStorage.setItem(KEPT, JSON.stringify({ speed: speed.value, playing, of: location.pathname.split("/")[2], at: Date.now() }));
    } catch { /* then the next page begins at its own speed */ }
  }
  function takeUp() {
    try {
      const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
      if ([...speed.options].some((each) => each.value === kept.speed)) speed.value = kept.speed;
      return kept.playing && kept.of === location.pathname.split("/")[2] && Date.now() - kept.at < GOES_ON_MS;
    } catch {
      return false;
    }
  }
  addEventListener("pagehide", keep);
  addEventListener("pageshow", (event) => event.persisted && stop());

  // ---- hands
  const step = (forth, sure = !isRunning() && wanted === shown()) => {
    const seconds = place().dataset.events.split(" ").filter(Boolean).map(Number);
    const next = forth ? seconds.find((each) => each > wanted) : seconds.findLast((each) => each < wanted);
    if (next !== undefined) return go(next);
    if (!sure) return askAnew(() => step(forth, true));
    say(forth ? "There is no later event." : "There is no earlier event.");
  };
  function faster(by) {
    const chosen = speed.options[speed.selectedIndex + by];
    if (!chosen) return;
    speed.value = chosen.value;
    speed.dispatchEvent(new Event("change"));
    say(`Speed ${chosen.textContent}`);
  }
  function toJumps() {
    const fold = document.getElementById("replay-jumps");
    fold.open = !fold.open;
    (fold.open ? fold.querySelector("a") ?? fold.querySelector("summary") : fold.querySelector("summary")).focus();
  }
  play.addEventListener("click", toggle);
  speed.addEventListener("change", () => {
    restart();
    keep();
    if (byHand) speed.blur();
  });
  let byHand = false; // chosen with the mouse, the list lets the keys go; by keyboard, they choose on
  for (const kind of ["pointerdown", "keydown"]) speed.addEventListener(kind, () => { byHand = kind === "pointerdown"; });
  slider.addEventListener("keydown", ({ key }) => key === "End" && isRunning() && askAnew(() => go(end())));
  slider.addEventListener("input", () => go(Number(slider.value)));
  document.addEventListener("click", (event) => {
    if (event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
    const link = event.target.closest("a");
    const isStep = link?.matches("#replay-previous, #replay-next"); // also one that the last answer knew no event for
    if (isStep || link?.dataset.seek !== undefined) {
      event.preventDefault();
      if (isStep) step(link.id === "replay-next"); // from where the hand is, which an answer under way does not know yet
      else go(Number(link.dataset.seek));
      const fold = link.closest("#replay-jumps");
      if (fold && matchMedia("(max-width: 700px)").matches) fold.open = false; // it lies over what was gone to
    } else if (link?.dataset.look !== undefined) {
      event.preventDefault();
      ask();
    }
  });
  document.addEventListener("submit", (event) => {
    if (!event.target.matches(".replay-typed, .replay-slide")) return;
    event.preventDefault();
    if (event.target.matches(".replay-slide")) return go(Number(slider.value));
    words = typed.value.trim() || null;
    say(words ? "" : "Type a moment, such as 1:02:30.");
    ask();
  });
  copy.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(location.href);
      say(`Copied: the address of ${clock(shown())}.`);
    } catch {
      say("The browser does not let this page copy. The address of this moment stands in the address bar.");
    }
  });

  // ---- keys: those of a player. Whatever has a key of its own, a field, a list or a button, keeps it.
  const KEYS = {
    " ": toggle,
    ArrowLeft: () => step(false),
    ArrowRight: () => step(true),
    "+": () => faster(1),
    "-": () => faster(-1),
    j: toJumps,
    b: () => place().querySelector(".replay-out a").click(),
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    if (event.key === "Escape" && event.target.closest("#replay-jumps[open]")) return toJumps();
    const slides = event.key === " " && event.target === slider; // which has no use for it
    if (!slides && event.target.closest("input, select, textarea, dialog, [role=region]")) return;
    if (event.key === " " && event.target.closest("a, button, summary")) return;
    const pressed = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!pressed || (event.repeat && !event.key.startsWith("Arrow"))) return;
    event.preventDefault();
    pressed();
  });

  // ---- the player stays in sight under the bar, which is not always as high
  const player = document.getElementById("player");
  const bar = document.querySelector(".bar");
  const stick = () => player.style.setProperty("--bar", getComputedStyle(bar).position === "sticky" ? `${bar.offsetHeight}px` : "0px");
  new ResizeObserver(stick).observe(bar);
  stick();
  player.classList.add("sticks");

  for (const each of [play, document.getElementById("replay-speed-label")]) each.hidden = false;
  copy.hidden = !navigator.clipboard;
  place().querySelector(".no-script").hidden = true;
  const goesOn = takeUp();
  point();
  paint();
  if (goesOn) start();
  else ask();
})();
