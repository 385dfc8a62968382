"use strict";
// What reading does not need: keeps the sheet up to date, reads values off a plot, counts an undo's minute down.
(() => {
  const root = document.documentElement;
  root.classList.add("js");
  const lost = document.getElementById("lost");
  const clock = () => {
    const stand = document.querySelector("[data-stand]");
    return stand ? stand.textContent : "a while ago";
  };

  // -- Live ------------------------------------------------------------------------------------------------------
  let heard = Date.now();
  let gone = false;
  let asking = false;
  const busy = () => {
    const at = document.activeElement;
    const writing = at && /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName);
    return writing || document.querySelector("details.quick[open], details.later[open]") || reading || Date.now() < readUntil;
  };
  // What had the focus has it again afterwards: who goes by keys or by ear must not be thrown back to the top.
  const known = (one) => [one.tagName, one.className, one.getAttribute("href"), one.name, one.value, one.textContent].join("|");
  const tell = (is) => {
    if (is === gone) return;
    gone = is;
    if (is) lost.textContent = `No word from the yard. This is how it stood on ${clock()}; it may have changed.`;
    lost.hidden = !is;
    document.body.classList.toggle("is-lost", is);
  };
  const renew = async () => {
    if (asking || document.hidden || busy()) { stale = true; return; }
    asking = true;
    stale = false;
    try {
      const url = new URL(location.href);
      const answer = await fetch(url, { headers: { accept: "text/html" }, credentials: "same-origin" });
      if (answer.redirected && new URL(answer.url).pathname === "/enter") { location.reload(); return; }
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (busy()) { stale = true; return; }
      const open = [...document.querySelectorAll("main details[open]")].map((one) => one.className);
      const old = document.querySelector(".done[data-left]");
      const at = document.activeElement, focus = at && at.closest("main") && at.id !== "sheet" ? known(at) : "";
      for (const part of ["main", ".foot"]) {
        const from = fresh.querySelector(part), to = document.querySelector(part);
        if (from && to) to.replaceChildren(...from.childNodes);
      }
      const again = document.querySelector(".done[data-left]");
      if (again && !old) again.remove();
      else if (again && old) again.replaceWith(old);
      document.title = fresh.title;
      for (const one of document.querySelectorAll("main details")) if (open.includes(one.className)) one.open = true;
      const same = focus && [...document.querySelectorAll("main a, main button, main summary, main [tabindex]")].find((one) => known(one) === focus);
      if (same) same.focus({ preventScroll: true });
      dress();
    } catch { /* The line says when the yard is lost. */ } finally { asking = false; }
  };
  let stale = false;
  let line = null;
  let again = 0;
  const listen = () => {
    const path = document.body.dataset.live;
    if (!path || !window.EventSource) return;
    if (line) line.close();
    line = new EventSource(path);
    line.addEventListener("alive", () => { heard = Date.now(); const was = gone; tell(false); if (was || stale) renew(); });
    line.addEventListener("changed", () => { heard = Date.now(); tell(false); renew(); });
    line.onerror = () => {
      // A browser tries again by itself unless the answer was an error; then we do.
      if (line.readyState === EventSource.CLOSED) { clearTimeout(again); again = setTimeout(() => { renew(); listen(); }, 5000); }
      if (Date.now() - heard > 4000) tell(true);
    };
  };
  setInterval(() => { if (document.body.dataset.live && Date.now() - heard > 25000) tell(true); if (stale && !gone) renew(); }, 2000);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { heard = Math.max(heard, Date.now() - 15000); renew(); } });
  addEventListener("pagehide", () => { if (line) line.close(); });
  addEventListener("pageshow", (event) => { if (event.persisted) { heard = Date.now(); listen(); renew(); } });

  // -- A plot under the finger -----------------------------------------------------------------------------------
  let reading = false;
  let readUntil = 0;
  const points = (path) => {
    const found = [];
    for (const run of (path.getAttribute("d") || "").split("M").slice(1)) {
      // The first pair is a place, the others are steps.
      const numbers = run.match(/-?(?:\d+(?:\.\d+)?|\.\d+)/g) || [];
      for (let i = 0, x = 0, y = 0; i + 1 < numbers.length; i += 2) found.push([x += +numbers[i], y += +numbers[i + 1]]);
    }
    return found.sort((a, b) => a[0] - b[0]);
  };
  const nearest = (list, x) => {
    let low = 0, high = list.length - 1;
    while (high - low > 1) { const mid = (low + high) >> 1; if (list[mid][0] < x) low = mid; else high = mid; }
    const pick = Math.abs(list[low][0] - x) <= Math.abs(list[high][0] - x) ? low : high;
    return Math.abs(list[pick][0] - x) < 6 ? list[pick] : null;
  };
  const plot = (sheet) => {
    const svg = sheet.querySelector("svg");
    if (!svg || sheet.dataset.read) return;
    sheet.dataset.read = "1";
    const told = sheet.parentElement.querySelector(".reader");
    const data = svg.dataset, number = (name) => Number(data[name]);
    const [t0, t1, x0, x1] = ["t0", "t1", "x0", "x1"].map(number);
    const [v0, v1, y0, y1] = ["v0", "v1", "y0", "y1"].map(number);
    const width = svg.viewBox.baseVal.width;
    let lines = null;
    const finger = document.createElement("div"), stretch = document.createElement("div");
    finger.className = "finger"; stretch.className = "stretch";
    finger.hidden = stretch.hidden = true;
    sheet.append(finger, stretch);
    const spread = () => { const [a, b] = [...down.values()]; return Math.max(8, Math.hypot(a.x - b.x, a.y - b.y)); };
    const say = new Intl.DateTimeFormat("en-GB", { timeZone: data.zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
    const place = (event) => {
      const box = svg.getBoundingClientRect();
      const x = Math.min(x1, Math.max(x0, (event.clientX - box.left) * width / box.width));
      return { x, y: (event.clientY - box.top) * width / box.width, at: t0 + (x - x0) * (t1 - t0) / (x1 - x0), left: x * box.width / width + box.left - sheet.getBoundingClientRect().left + sheet.scrollLeft };
    };
    const show = (where) => {
      if (!lines) {
        lines = new Map();
        for (const path of svg.querySelectorAll("[data-line]")) {
          const name = path.dataset.line;
          lines.set(name, (lines.get(name) || []).concat(points(path)).sort((a, b) => a[0] - b[0]));
        }
        const last = (name) => (name === "air" ? 1 : 0);
        lines = new Map([...lines].sort(([a], [b]) => last(a) - last(b) || a.localeCompare(b)));
      }
      const parts = [];
      for (const [name, list] of lines) {
        const near = list.length ? nearest(list, where.x) : null;
        const value = near ? (v0 + (near[1] - y0) * (v1 - v0) / (y1 - y0)).toFixed(1).replace(".0", "") + " " + data.unit : "no reading";
        parts.push(`${name} ${value}`);
      }
      finger.hidden = false;
      finger.style.left = `${where.left}px`;
      readUntil = Date.now() + 15000;
      told.hidden = false;
      told.textContent = `${say.format(new Date(where.at))}: ${parts.join("; ")}`;
    };
    const ends = (from, to) => {
      if (to - from >= 3600e3) return [from, to];
      const middle = (from + to) / 2;
      return [middle - 1800e3, middle + 1800e3];
    };
    const pulled = () => {
      const by = pinch.now ? pinch.apart / pinch.now : 1;
      return ends(pinch.at - (pinch.at - t0) * by, pinch.at + (t1 - pinch.at) * by);
    };
    const go = ([from, to]) => {
      location.search = `?from=${Math.round(from)}&to=${Math.round(to)}`;
    };
    const down = new Map();
    let begun = null, pinch = null;
    sheet.addEventListener("pointerdown", (event) => {
      down.set(event.pointerId, place(event));
      reading = true;
      if (down.size === 1) begun = place(event);
      if (down.size === 2) { const [a, b] = [...down.values()]; pinch = { at: (a.at + b.at) / 2, apart: spread(), now: 0 }; stretch.hidden = finger.hidden = true; return; }
      if (!pinch) show(place(event));
    });
    sheet.addEventListener("pointermove", (event) => {
      const where = place(event);
      if (down.has(event.pointerId)) down.set(event.pointerId, where);
      else if (event.pointerType !== "mouse") return;
      if (pinch) {
        if (down.size !== 2) return;
        pinch.now = spread();
        told.hidden = false;
        told.textContent = `${pulled().map((at) => say.format(new Date(at))).join(" to ")}: let go to see it`;
        return;
      }
      if (begun && down.size === 1) {
        stretch.hidden = Math.abs(where.left - begun.left) < 8;
        stretch.style.left = `${Math.min(where.left, begun.left)}px`;
        stretch.style.width = `${Math.abs(where.left - begun.left)}px`;
      }
      show(where);
    });
    const up = (event) => {
      const where = down.get(event.pointerId);
      down.delete(event.pointerId);
      if (pinch && down.size < 2) {
        const by = pinch.now ? pinch.apart / pinch.now : 1, range = pulled();
        pinch = null; begun = null;
        if (event.type === "pointerup" && Math.abs(by - 1) > 0.15) go(range);
        else told.hidden = true;
      } else if (begun && where && event.type === "pointerup" && Math.abs(where.left - begun.left) > 24) {
        go(ends(Math.min(where.at, begun.at), Math.max(where.at, begun.at)));
      }
      if (!down.size) { begun = null; reading = false; stretch.hidden = true; }
    };
    for (const name of ["pointerup", "pointercancel"]) addEventListener(name, (event) => { if (down.has(event.pointerId)) up(event); });
  };

  // -- Small things ----------------------------------------------------------------------------------------------
  const dress = () => {
    for (const sheet of document.querySelectorAll(".plot-sheet")) plot(sheet);
    for (const done of document.querySelectorAll(".done[data-left]")) {
      if (done.dataset.counts) continue;
      done.dataset.counts = "1";
      const button = done.querySelector("button");
      let left = Number(done.dataset.left);
      const count = setInterval(() => {
        left -= 1;
        if (button) button.textContent = `Undo (${left} s)`;
        if (left <= 0 || !done.isConnected) {
          clearInterval(count);
          done.remove();
          history.replaceState(null, "", location.pathname);
        }
      }, 1000);
    }
    const print = document.querySelector("[data-print]");
    if (print) print.onclick = () => window.print();
  };
  document.addEventListener("submit", (event) => {
    // A second tap of a muddy thumb is not a second turning.
    if (event.target.dataset.sent) event.preventDefault();
    event.target.dataset.sent = "1";
    if (event.target.action.endsWith("/do/certificate")) event.target.querySelector("button").textContent = "Making it; this takes a while …";
    setTimeout(() => { delete event.target.dataset.sent; }, 4000);
  });
  dress();
  listen();
})();
