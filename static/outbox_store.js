"use strict";
// The store of what this station keeps, in IndexedDB, shared by all tabs of the browser, as `leadline.store`. It knows a
// press only as a value with a place in a row and a key; what it means, and when it is sent, is outbox.js's.
(() => {
  const { leadline } = window;
  const NAME = "leadline-kept";
  let opened = null;
  function database() {
    opened ??= new Promise((done, failed) => {
      const asked = indexedDB.open(NAME, 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("kept", { keyPath: "place", autoIncrement: true });
        asked.result.createObjectStore("lease", { keyPath: "id" });
      };
      asked.onsuccess = () => {
        // Closed by the browser, or by us to make way for a newer page: the next use opens it anew.
        asked.result.onclose = () => { opened = null; };
        asked.result.onversionchange = () => { asked.result.close(); opened = null; };
        done(asked.result);
      };
      asked.onerror = asked.onblocked = () => failed(asked.error);
    });
    opened.catch(() => { opened = null; });
    return opened;
  }

  const STORE_MS = 5_000; // A store that hangs says nothing by itself; whoever pressed must know that it is not kept.
  // What `work` gave, once its transaction is on the disk: "strict" asks for that.
  function within(name, mode, work) {
    return new Promise((done, failed) => {
      let [given, doing, late] = [undefined, null, false];
      setTimeout(() => {
        late = true;
        try {
          doing?.abort();
        } catch {
          return; // It has ended, or is being written just now: then its end says what became of it.
        }
        failed(new DOMException("The store does not answer.", "TimeoutError"));
      }, STORE_MS);
      database().then((base) => {
        if (late) return;
        doing = base.transaction(name, mode, { durability: "strict" });
        doing.oncomplete = () => done(given);
        doing.onabort = doing.onerror = () => failed(doing.error ?? new DOMException("The store gave up.", "AbortError"));
        work(doing.objectStore(name), (value) => { given = value; });
      }).catch(failed);
    });
  }

  // ---- what can't be written, as when the browser's storage is full, is known to its open pages alone, who tell each other
  const others = "BroadcastChannel" in window ? new BroadcastChannel(NAME) : null;
  const loose = new Map(); // place -> the press as it stands, or null where it is out
  function remember(place, value) {
    if (value === undefined) loose.delete(place);
    else loose.set(place, value);
  }
  function know(place, value) {
    remember(place, value);
    others?.postMessage({ loose: [place, value] });
  }
  others?.addEventListener("message", ({ data }) => data.loose && remember(...data.loose));
  const isUnstored = (place) => typeof place === "string"; // by its key: it never had a place in the row
  const unstored = () => [...loose].filter(([place, value]) => isUnstored(place) && value).map(([, value]) => value);
  const asItStands = (stored) => (stored && loose.has(stored.place) ? loose.get(stored.place) : stored);

  let read = [];
  async function all() {
    try {
      read = await within("kept", "readonly", (store, give) => {
        store.getAll().onsuccess = (event) => give(event.target.result);
      });
    } catch (error) {
      if (!loose.size) throw error;
    }
    return [...read.map(asItStands).filter(Boolean), ...unstored()];
  }
  // Raises what the browser says why it can't. Nor is anything stored while an earlier press is not: it would come before it.
  function add(press) {
    const [earlier] = unstored();
    if (earlier) return Promise.reject(new DOMException("An earlier press is not stored either.", earlier.unstored));
    return within("kept", "readwrite", (store, give) => {
      store.add(press).onsuccess = (event) => give(event.target.result);
    });
  }
  const hold = (press, why) => know(press.key, { ...press, place: press.key, unstored: why });

  // Looks at what stands there and changes it in one go, so that two tabs can't do both. `judge` gives the new value, null
  // to take it out, or undefined to leave it; so does this, with undefined too where nothing stands there any more.
  async function change(place, judge) {
    let next;
    const judged = (now) => (next = now ? judge(now) : undefined);
    if (isUnstored(place)) {
      if (judged(loose.get(place)) !== undefined) know(place, next);
      return next;
    }
    try {
      await within("kept", "readwrite", (store) => {
        store.get(place).onsuccess = (event) => {
          judged(asItStands(event.target.result));
          if (next === null) store.delete(place);
          else if (next) store.put(next);
        };
      });
      if (next !== undefined && loose.has(place)) know(place, undefined);
    } catch (error) {
      if (next === undefined) throw error;
      know(place, next);
    }
    return next;
  }

  // One tab sends at a time. A lease that lasts longer than any is from before this station's clock was set back. Where none
  // can be written each tab sends: in order too, and of a press that comes twice the server takes one.
  async function lease(owner, lasts) {
    let mine = true;
    await within("lease", "readwrite", (store) => {
      store.get("sender").onsuccess = (event) => {
        const [held, now] = [event.target.result, Date.now()];
        mine = !held || held.owner === owner || held.until < now || held.until > now + lasts;
        if (mine) store.put({ id: "sender", owner, until: now + lasts });
      };
    }).catch(() => {});
    return mine;
  }
  const release = (owner) => within("lease", "readwrite", (store) => {
    store.get("sender").onsuccess = (event) => event.target.result?.owner === owner && store.delete("sender");
  });

  function newKey() { // UUID version 7 (RFC 9562, 5.7), as web/keys.py; crypto.randomUUID needs https
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    let ms = Date.now();
    for (let place = 5; place >= 0; place -= 1) [bytes[place], ms] = [ms % 256, Math.floor(ms / 256)];
    bytes[6] = (bytes[6] & 0x0f) | 0x70;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((each) => each.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  }

  leadline.store = {
    all, add, hold, change, lease, release, newKey,
    tell: (said) => others?.postMessage(said), // the other tabs
    hear: (each) => others?.addEventListener("message", (event) => each(event.data)),
  };
})();
