"use strict";
// Keeps the sheet up to date, and takes nothing out of anybody's hands: what changed is put in piece by piece, by name; what
// has the focus, a selection, typed text or a finger on it stays as it is. The other scripts go by `sheet`.
const sheet = (() => {
  document.documentElement.classList.add("js");
  const lost = document.getElementById("lost");
  const main = () => document.querySelector("main");
  const live = () => document.body.dataset.live;
  const stood = () => { const stand = document.querySelector("[data-stand]"); return stand ? stand.textContent : "a while ago"; };
  const dressers = [], backs = [];
  const current = document.querySelector(".sheets [aria-current]");
  if (current) current.scrollIntoView({ block: "nearest", inline: "center" });
  let pressed = 0, seen = "";
  let heard = Date.now(), gone = false, asking = false, stale = false, still = false;

  // -- What must not be touched ------------------------------------------------------------------------------------
  const WHOLE = "form, table, figure, li, p, summary, h1, h2, h3, a, button";
  const writes = (one) => one && /^(INPUT|TEXTAREA|SELECT)$/.test(one.tagName);
  const typed = (form) => [...form.elements].some((one) => {
    if (!writes(one) || one.type === "hidden") return false;
    if (one.tagName !== "SELECT") return one.value !== one.defaultValue;
    return one.selectedIndex !== Math.max(0, [...one.options].findIndex((option) => option.defaultSelected));
  });
  const picked = (one) => { const some = getSelection(); return some && !some.isCollapsed && some.containsNode(one, true); };
  let passed = false;
  const held = (one) => {
    if (one.nodeType !== 1) return false;
    if ("keep" in one.dataset || one.dataset.read > Date.now()) return true;
    if (!one.matches(WHOLE)) return false;
    return picked(one) || (one.tagName === "FORM" && (typed(one) || (one.contains(document.activeElement) && writes(document.activeElement))));
  };
  const precious = (one) => one.nodeType === 1 && (one.contains(document.activeElement) || held(one) || [...one.querySelectorAll("[data-keep],form,[data-read]")].some(held));

  // -- Piece by piece ----------------------------------------------------------------------------------------------
  const nameOf = (one) => one.nodeType === 1 ? `${one.tagName} ${one.id || one.dataset.key || one.getAttribute("class") || ""}` : `${one.nodeType}`;
  const patch = (to, from) => {
    if (to.nodeType !== 1) { if (to.nodeValue !== from.nodeValue) to.nodeValue = from.nodeValue; return; }
    if (to.isEqualNode(from)) return;
    if (held(to) || (to === document.activeElement && writes(to))) { passed = true; return; }
    if (to.tagName === "svg") { to.replaceWith(from); return; }
    const mine = (name) => to.tagName === "DETAILS" && name === "open";
    for (const { name, value } of [...from.attributes]) if (!mine(name) && to.getAttribute(name) !== value) to.setAttribute(name, value);
    for (const { name } of [...to.attributes]) if (!mine(name) && !from.hasAttribute(name)) to.removeAttribute(name);
    const pool = new Map(), wanted = [...from.childNodes];
    for (const child of to.childNodes) { const name = nameOf(child); if (!pool.has(name)) pool.set(name, []); pool.get(name).push(child); }
    const pairs = wanted.map((want) => [want, (pool.get(nameOf(want)) || []).shift()]), left = new Set([...pool.values()].flat());
    // What is not wanted any more is passed over where it stands: if it must stay, it stays there.
    const past = (one) => { while (one && left.has(one)) one = one.nextSibling; return one; };
    let at = past(to.firstChild);
    for (const [want, old] of pairs) {
      if (!old) { to.insertBefore(want, at); continue; }
      if (old !== at && precious(old)) while (at && at !== old) { const next = past(at.nextSibling); to.insertBefore(at, old.nextSibling); at = next; }
      else if (old !== at) to.insertBefore(old, at);
      if (old === at) at = past(old.nextSibling);
      patch(old, want);
    }
    for (const old of left) {
      const had = old.contains(document.activeElement);
      if (had && !writes(document.activeElement) && !held(old)) { old.remove(); main().focus({ preventScroll: true }); }
      else if (!precious(old)) old.remove();
    }
  };
  const dress = () => { for (const one of dressers) one(); };
  const parsed = (text) => new DOMParser().parseFromString(text, "text/html");
  // The mark of the sheet that stands here; "" if some of it was passed over. After ten minutes all is asked for, for fresh forms.
  let mark = document.body.dataset.mark, whole = Date.now();
  const stands = (answer) => {
    for (const [name, words] of [["[data-stand]", answer.headers.get("x-stood")], ["[data-stand-day]", answer.headers.get("x-day")]]) {
      for (const one of document.querySelectorAll(name)) if (words && one.textContent !== words) one.textContent = words;
    }
  };
  const take = (fresh) => {
    passed = false;
    for (const part of ["main", ".foot"]) { const from = fresh.querySelector(part), to = document.querySelector(part); if (from && to) patch(to, from); }
    mark = passed ? "" : fresh.body.dataset.mark;
    whole = Date.now();
    document.title = fresh.title;
    dress();
  };
  // A sheet of another kind may need a style or a script that this one had no use for.
  const bring = (fresh) => {
    for (const one of fresh.head.querySelectorAll("link[rel=stylesheet],script[src]")) {
      const name = one.src ? "src" : "href";
      if (document.head.querySelector(`[${name}="${one.getAttribute(name)}"]`)) continue;
      const made = document.createElement(one.tagName);
      for (const { name, value } of one.attributes) made.setAttribute(name, value);
      document.head.append(made);
    }
  };
  // After a form the whole sheet is another one; it begins at its top, or where something is wrong.
  const adopt = (text, url) => {
    const fresh = parsed(text), from = fresh.querySelector("main"), foot = fresh.querySelector(".foot");
    if (!from) { location.assign(url); return; }
    bring(fresh);
    main().replaceChildren(...from.childNodes);
    mark = "";
    main().dataset.here = from.dataset.here || "";
    if (foot && document.querySelector(".foot")) document.querySelector(".foot").replaceChildren(...foot.childNodes);
    document.title = fresh.title;
    history.replaceState(null, "", url);
    tidy();
    dress();
    const first = document.querySelector("#question, main [autofocus]");
    scrollTo(0, 0);
    if (first) first.focus(); else main().focus({ preventScroll: true });
    heard = Date.now();
    tell(false);
  };
  // An address that only takes forms is no place to be, and an undo is for once.
  const tidy = () => {
    const here = main() && main().dataset.here, url = new URL(location.href);
    if (url.pathname.startsWith("/do/") && here) history.replaceState(null, "", here);
    else if (url.searchParams.has("done")) {
      url.searchParams.delete("done");
      history.replaceState(null, "", url.pathname + url.search + url.hash);
    }
    seen = location.pathname + location.search;
  };

  // -- Live --------------------------------------------------------------------------------------------------------
  const tell = (is) => {
    if (is === gone) return;
    gone = is;
    if (is) lost.textContent = `No word from the yard. This is how it stood on ${stood()}; it may have changed.`;
    lost.hidden = !is;
    if (!is) for (const one of backs) one();
  };
  const page = async (url, known = "") => {
    const headers = { accept: "text/html", ...(known && Date.now() - whole < 600000 ? { "if-none-match": `"${known}"` } : {}) };
    const answer = await fetch(url, { headers, credentials: "same-origin" });
    if (answer.status === 304) { stands(answer); return null; }
    if (answer.redirected && new URL(answer.url).pathname === "/enter") { location.reload(); return null; }
    return answer.ok ? parsed(await answer.text()) : null;
  };
  const renew = async () => {
    if (!live()) return;
    if (asking || still || document.hidden || Date.now() < pressed) { stale = true; return; }
    asking = true;
    stale = false;
    try {
      const asked = location.href, fresh = await page(asked, mark);
      if (Date.now() < pressed || still || asked !== location.href) stale = true;
      else if (fresh) take(fresh);
    } catch { /* The line says when the yard is lost. */ } finally { asking = false; }
  };
  // Another look at the same sheet: nobody is thrown back to its top.
  const look = async (address, keep = true) => {
    try {
      const fresh = await page(address);
      if (!fresh) { location.assign(address); return; }
      if (keep) history.pushState(null, "", address);
      seen = location.pathname + location.search;
      for (const one of document.querySelectorAll("[data-read]")) delete one.dataset.read;
      take(fresh);
    } catch { tell(true); }
  };
  let line = null, again = 0;
  const listen = () => {
    if (!live() || !window.EventSource) return;
    if (line) line.close();
    line = new EventSource(live());
    line.addEventListener("alive", () => { heard = Date.now(); const was = gone; tell(false); if (was || stale) renew(); });
    line.addEventListener("changed", () => { heard = Date.now(); tell(false); renew(); });
    line.onerror = () => {
      // A browser tries again by itself unless the answer was an error; then we do.
      if (line.readyState === EventSource.CLOSED) { clearTimeout(again); again = setTimeout(() => { renew(); listen(); }, 5000); }
      if (Date.now() - heard > 4000) tell(true);
    };
  };
  setInterval(() => { if (live() && Date.now() - heard > 25000) tell(true); if (stale && !gone) renew(); }, 2000);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { heard = Math.max(heard, Date.now() - 15000); renew(); } });
  addEventListener("pagehide", () => { if (line) line.close(); });
  addEventListener("pageshow", (event) => { if (event.persisted) { heard = Date.now(); listen(); renew(); } });
  addEventListener("popstate", () => {
    // A step to another part of the same sheet is none of ours.
    if (location.pathname + location.search !== seen) look(location.pathname + location.search, false);
  });

  // A tap counts where it began: nothing moves under a finger, nor before its click has been taken in.
  const press = () => { pressed = Date.now() + 60000; };
  const release = () => { pressed = Math.min(pressed, Date.now() + 400); };
  for (const name of ["pointerdown", "keydown"]) addEventListener(name, press, true);
  for (const name of ["pointerup", "pointercancel", "keyup", "blur"]) addEventListener(name, release, true);

  document.addEventListener("click", (event) => {
    const to = event.target.closest && event.target.closest("[data-look] a, [data-still], [data-print]");
    if (!to) return;
    if (to.tagName === "A") {
      if (event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
      event.preventDefault();
      look(to.pathname + to.search);
    } else if ("print" in to.dataset) print();
    else {
      still = !still;
      try { localStorage.setItem("still", still ? "1" : ""); } catch { /* It then holds for this sheet alone. */ }
      holds();
      if (!still) renew();
    }
  });
  // The switch is kept in this browser, so that the next sheet is still too.
  const holds = () => {
    for (const one of document.querySelectorAll("[data-still]")) {
      one.setAttribute("aria-pressed", String(still));
      one.textContent = still ? "Held still; go on" : "Hold still";
    }
    document.body.classList.toggle("is-still", still);
  };
  try { still = localStorage.getItem("still") === "1"; } catch { /* Nothing is kept here. */ }
  dressers.push(holds);
  holds();
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "get" || !form.closest("[data-look]")) return;
    event.preventDefault();
    look(`${location.pathname}?${new URLSearchParams(new FormData(form))}`);
  });
  tidy();
  listen();
  return { adopt, backs, dressers, dress, look, parsed, renew, tell, heard: () => { heard = Date.now(); }, gone: () => gone };
})();
