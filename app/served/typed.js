// Keeps what is typed until the record has it, and says of a press that the connection swallowed whether it was heard.
// What counts as written is what the server says of the record; passwords, codes and numbers are never kept.
(() => {
  const STORE = "kept", WORDS = "/kept-words/", PRESS = "/kept-press", STALE_MS = 10000, MOST = 2000;
  const FIELDS = "[data-testid=stMain] [data-testid=stTextArea] textarea, [data-testid=stForm] [data-testid=stTextInput] input";
  const kept = new Map(), waiting = new Map();
  let said, raw, heardAt = 0, heard = 0, lost = false, backAt = 0, gone = false, asked = 0, shown = "";

  const one = (text) => text.trim().split(/\s+/).join(" ");
  const time = (at) => {
    const day = new Date(at).toDateString() === new Date().toDateString() ? undefined : "short";
    return new Date(at).toLocaleString([], { weekday: day, hour: "2-digit", minute: "2-digit", hour12: false });
  };
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);
  const store = () => caches.open(STORE);
  const keep = async (at, value) => {
    kept.set(at, value);
    if (!gone) await (await store()).put(at, new Response(JSON.stringify(value)));
  };
  const drop = async (at) => {
    kept.delete(at);
    await (await store()).delete(at);
  };
  const forget = async () => {
    gone = true;
    kept.clear();
    await caches.delete(STORE);
  };
  const keyOf = (part) => /(?:^| )st-key-(\S+)/.exec(part.closest(".stElementContainer")?.className ?? "")?.[1];
  const app = () => document.querySelector("[data-testid=stApp]");
  const isQuiet = () => document.querySelector(".on-record") && Date.now() - heardAt > STALE_MS;
  const isLost = () => app()?.dataset.testConnectionState !== "CONNECTED" || isQuiet();

  // Only fields of words: a code that is shown by its eye is an input of text as well, but the browser was told what it is.
  const isWords = (field) => field.matches?.(FIELDS) && (field.type === "text" || field.type === "textarea")
    && !/password|one-time/.test(field.getAttribute("autocomplete") ?? "") && !/^code-/.test(keyOf(field) ?? "code-");
  const addressOf = (field) => WORDS + encodeURIComponent(location.pathname + location.search) + "/" + keyOf(field);
  const isShown = (text) => [...document.querySelectorAll(FIELDS)].some((f) => isWords(f) && one(f.value) === text);

  const noteWords = (field) => {
    const address = addressOf(field), text = one(field.value).slice(0, MOST);
    const enough = field.type === "textarea" || text.includes(" ");  // a station or a name is no words
    if (!text || !enough) return drop(address);
    const where = location.pathname + location.search;
    return keep(address, { text, full: field.value, key: keyOf(field), where, at: Date.now(), head: said.head, who: said.who });
  };
  const flush = () => {
    for (const [field, timer] of waiting) {
      clearTimeout(timer);
      noteWords(field);
    }
    waiting.clear();
  };
  addEventListener("input", ({ target }) => {
    listen();
    if (!said || gone || !isWords(target)) return;
    clearTimeout(waiting.get(target));
    waiting.set(target, setTimeout(() => { waiting.delete(target); noteWords(target); }, 200));
  }, true);
  for (const left of ["pagehide", "visibilitychange"]) addEventListener(left, flush, true);

  addEventListener("click", ({ target }) => {
    const button = target.closest?.("button");
    listen();
    if (!button || !said || gone) return;
    const writes = button.closest("[data-testid=stFormSubmitButton]") || said.writes.some((w) => keyOf(button)?.startsWith(w));
    if (!writes || button.disabled) return;
    flush();
    heard = 0;
    const label = button.querySelector("p")?.innerText.trim() ?? button.innerText.trim();
    keep(PRESS, { label, at: Date.now(), head: said.head, who: said.who, doubt: lost });
  }, true);

  // A page without a connection locks its fields; those of words stay open, for they are kept.
  new MutationObserver((changes) => {
    if (app()?.dataset.testConnectionState === "CONNECTED") return;
    for (const { target } of changes) if (target.disabled && isWords(target)) target.disabled = false;
  }).observe(document.documentElement, { subtree: true, attributeFilter: ["disabled"] });

  const putBack = (value) => {
    const field = document.querySelector(`.st-key-${CSS.escape(value.key)} :is(textarea, input)`);
    Object.getOwnPropertyDescriptor(Object.getPrototypeOf(field), "value").set.call(field, value.full);
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.focus();
  };
  const isOnRecord = (value) => said.own.some(([number, , texts]) => number > value.head
    && texts.some(([length, start]) => value.text.length === length && value.text.startsWith(start)));

  // Streamlit's own words on a lost connection are for programmers, and lock the page; what is to be said stands below.
  const closeForeignWords = () => {
    const closing = (part) => /^Connection error/.test(part.innerText) && part.querySelector("button[aria-label=Close]");
    for (const part of document.querySelectorAll("[role=dialog]")) (closing(part) || null)?.click();
  };

  // What is to be said now: each with its words and what may be done about it.
  const messages = () => {
    const { words } = said, found = [], press = kept.get(PRESS), settled = !lost && heard >= 2;
    const since = press && said.own.filter(([number]) => number > press.head).pop();
    if (press?.doubt && lost) found.push([filled(words.unknown, { button: press.label, at: time(press.at) })]);
    else if (press?.doubt && settled) {
      const values = { button: press.label, at: time(press.at), entry: since?.[1] };
      found.push([filled(since ? words.heard : words.unheard, values), [words.read, () => drop(PRESS)]]);
    }
    if (lost) found.push([words.lost]);
    else if (Date.now() - backAt < 6000) found.push([words.back]);
    if (!settled || app().dataset.testScriptState !== "notRunning" || (press && !press.doubt)) return found;
    for (const [address, value] of kept) {
      if (address === PRESS || isShown(value.text)) continue;
      const there = location.pathname + location.search === value.where;
      const field = there && document.querySelector(`.st-key-${CSS.escape(value.key)} :is(textarea, input)`);
      const way = field ? [words.put, () => putBack(value)] : there ? null : [words.go, () => { location.href = value.where; }];
      const text = filled(words.kept, { at: time(value.at), words: value.text });
      found.push([text, ...(way ? [way] : []), [words.away, () => drop(address)]]);
    }
    return found;
  };
  const show = (found) => {
    const now = JSON.stringify(found);
    let bar = document.querySelector("#kept-words");
    const below = document.querySelector("[data-stale-page] .page-words")?.offsetHeight ?? 0;
    if (bar) bar.style.bottom = `${below ? below + 18 : 12}px`;
    if (now === shown) return;
    shown = now;
    if (!bar) bar = document.body.appendChild(Object.assign(document.createElement("div"), { id: "kept-words", role: "status" }));
    bar.style.colorScheme = getComputedStyle(app()).colorScheme;
    bar.replaceChildren(...found.map(([text, ...ways]) => {
      const line = document.createElement("p");
      line.append(text, ...(ways.length ? [document.createElement("br")] : []));
      for (const [label, act] of ways) {
        const onclick = () => { act(); tick(); };
        line.append(Object.assign(document.createElement("button"), { textContent: label, onclick }));
      }
      return line;
    }));
  };

  const listen = () => {
    const now = document.querySelector(".on-record")?.dataset.said, fresh = window.heardOf?.page ?? 0;
    if (!now || fresh === heardAt) return;
    if (now !== raw) said = JSON.parse(raw = now);
    heardAt = fresh;
    heard += 1;
    for (const [address, value] of kept) if (value.who !== said.who || (value.text && isOnRecord(value))) drop(address);
  };
  const look = () => {
    if (Date.now() - asked < 5000) return;
    asked = Date.now();
    fetch("/manifest.webmanifest", { cache: "no-store" }).then((answer) => answer.status === 401 && forget(), () => {});
  };
  function tick() {
    listen();
    if (!said) return;
    const press = kept.get(PRESS), was = lost;
    lost = isLost();
    if (lost) {
      heard = 0;
      look();
      closeForeignWords();
      if (press && !press.doubt) keep(PRESS, { ...press, doubt: true });
    } else if (was) backAt = Date.now();
    // Nothing was lost between, and the page has been drawn since: it has given its answer itself.
    if (press && !press.doubt && heard >= 2 && app().dataset.testScriptState === "notRunning") drop(PRESS);
    show(gone ? [[said.words.out]] : messages());
  }

  (async () => {
    const cache = await store();
    for (const { url } of await cache.keys()) {
      const address = url.slice(location.origin.length);
      if (!address.startsWith(WORDS) && address !== PRESS) continue;
      const value = await (await cache.match(url)).json();
      kept.set(address, address === PRESS ? { ...value, doubt: true } : value);
    }
    setInterval(tick, 500);
  })();
})();
