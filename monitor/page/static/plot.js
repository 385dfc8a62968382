"use strict";
// Reads values off a plot, and looks closer: a drag across it, or two fingers pulled apart.
(() => {
  const runs = (line) => {
    // A line stands once on the sheet; the drawings at other widths take it from there, moved and stretched.
    const path = line.tagName === "use" ? document.getElementById(line.getAttribute("href").slice(1)) : line;
    const moved = line.transform.baseVal.numberOfItems ? line.transform.baseVal.getItem(0).matrix : { a: 1, d: 1, e: 0, f: 0 };
    return (path.getAttribute("d") || "").split("M").slice(1).map((run) => {
      // The first pair is a place, the others are steps.
      const numbers = run.match(/-?(?:\d+(?:\.\d+)?|\.\d+)/g) || [], found = [];
      for (let i = 0, x = 0, y = 0; i + 1 < numbers.length; i += 2) {
        x += +numbers[i]; y += +numbers[i + 1];
        found.push([x * moved.a + moved.e, y * moved.d + moved.f]);
      }
      return found;
    });
  };
  // Within a run the line is the value; a reading alone can be met with a finger's breadth.
  const height = (list, x) => {
    const run = list.find((one) => one[0][0] - 0.6 <= x && x <= one[one.length - 1][0] + 0.6);
    if (!run) return null;
    let low = 0, high = run.length - 1;
    while (high - low > 1) { const mid = (low + high) >> 1; if (run[mid][0] < x) low = mid; else high = mid; }
    const [[x0, y0], [x1, y1]] = [run[low], run[high]];
    return x1 > x0 ? y0 + (y1 - y0) * Math.min(1, Math.max(0, (x - x0) / (x1 - x0))) : y0;
  };
  const known = new WeakMap(), ready = new WeakSet();
  const linesOf = (svg) => {
    if (known.has(svg)) return known.get(svg);
    const lines = new Map();
    for (const path of svg.querySelectorAll("[data-line]")) lines.set(path.dataset.line, (lines.get(path.dataset.line) || []).concat(runs(path)));
    const last = (name) => (name === "air" ? 1 : 0);
    const sorted = [...lines].sort(([a], [b]) => last(a) - last(b) || a.localeCompare(b, "en", { numeric: true }));
    const outs = [...svg.querySelectorAll("[data-out]")].map((one) => [one.dataset.out, +one.getAttribute("x1"), +one.getAttribute("x2"), +one.dataset.fit]);
    known.set(svg, { sorted, outs });
    return known.get(svg);
  };
  const plot = (frame) => {
    if (ready.has(frame)) return;
    ready.add(frame);
    const figure = frame.closest(".plot"), told = figure.querySelector(".reader"), hint = told.textContent;
    const svg = () => frame.querySelector("svg");
    const finger = document.createElement("div"), stretch = document.createElement("div");
    finger.className = "finger"; stretch.className = "stretch";
    finger.dataset.keep = stretch.dataset.keep = "";
    finger.hidden = stretch.hidden = true;
    frame.append(finger, stretch);
    const scale = () => Object.fromEntries(["t0", "t1", "x0", "x1", "v0", "v1", "y0", "y1"].map((name) => [name, Number(svg().dataset[name])]));
    const say = (at) => new Intl.DateTimeFormat("en-GB", { timeZone: svg().dataset.zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }).format(new Date(at));
    const place = (event) => {
      const box = svg().getBoundingClientRect(), wide = svg().viewBox.baseVal.width, { t0, t1, x0, x1 } = scale();
      const x = Math.min(x1, Math.max(x0, (event.clientX - box.left) * wide / box.width));
      return { x, y: (event.clientY - box.top) * wide / box.width, at: t0 + (x - x0) * (t1 - t0) / (x1 - x0), left: x * box.width / wide + box.left - frame.getBoundingClientRect().left + frame.scrollLeft };
    };
    const hold = (ms) => { figure.dataset.read = String(Date.now() + ms); };
    const show = (where) => {
      const { sorted, outs } = linesOf(svg()), { v0, v1, y0, y1 } = scale(), unit = svg().dataset.unit;
      const parts = sorted.map(([name, list]) => {
        const y = height(list, where.x);
        if (y !== null) return `${name} ${(v0 + (y - y0) * (v1 - v0) / (y1 - y0)).toFixed(1).replace(".0", "")} ${unit}`;
        const out = outs.find(([of, a, , fit]) => of === name && a <= where.x && where.x <= fit);
        return `${name} ${!out ? "no reading" : where.x <= out[2] ? "outside" : "just back, not counted yet"}`;
      });
      finger.hidden = false;
      finger.style.left = `${where.left}px`;
      hold(15000);
      told.textContent = `${say(where.at)}: ${parts.join("; ")}`;
    };
    const rest = () => { finger.hidden = stretch.hidden = true; told.textContent = hint; delete figure.dataset.read; };
    const ends = (from, to) => {
      if (to - from >= 3600e3) return [from, to];
      const middle = (from + to) / 2;
      return [middle - 1800e3, middle + 1800e3];
    };
    const pulled = () => {
      const by = pinch.now ? pinch.apart / pinch.now : 1, { t0, t1 } = scale();
      return ends(pinch.at - (pinch.at - t0) * by, pinch.at + (t1 - pinch.at) * by);
    };
    const go = ([from, to]) => { rest(); sheet.look(`${location.pathname}?from=${Math.round(from)}&to=${Math.round(to)}`); };
    const down = new Map();
    const spread = () => { const [a, b] = [...down.values()]; return Math.max(8, Math.hypot(a.x - b.x, a.y - b.y)); };
    let begun = null, pinch = null;
    frame.addEventListener("pointerdown", (event) => {
      down.set(event.pointerId, place(event));
      hold(60000);
      if (down.size === 1) begun = place(event);
      if (down.size === 2) { const [a, b] = [...down.values()]; pinch = { at: (a.at + b.at) / 2, apart: spread(), now: 0 }; stretch.hidden = finger.hidden = true; return; }
      if (!pinch) show(place(event));
    });
    frame.addEventListener("pointermove", (event) => {
      const where = place(event);
      if (down.has(event.pointerId)) down.set(event.pointerId, where);
      else if (event.pointerType !== "mouse") return;
      if (pinch) {
        if (down.size !== 2) return;
        pinch.now = spread();
        told.textContent = `${pulled().map(say).join(" to ")}: let go to see it`;
        return;
      }
      if (begun && down.size === 1) {
        stretch.hidden = Math.abs(where.left - begun.left) < 8;
        stretch.style.left = `${Math.min(where.left, begun.left)}px`;
        stretch.style.width = `${Math.abs(where.left - begun.left)}px`;
      }
      show(where);
    });
    // The keys walk along the time axis: a sixtieth of it, with Shift an eighth; what they read is said aloud.
    let walked = null;
    frame.addEventListener("keydown", (event) => {
      const { t0, t1, x0, x1 } = scale(), step = (t1 - t0) / (event.shiftKey ? 8 : 60);
      const to = { ArrowLeft: -step, ArrowRight: step, Home: -Infinity, End: Infinity }[event.key];
      if (event.key === "Escape") { walked = null; rest(); return; }
      if (to === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      walked = Math.min(t1, Math.max(t0, (walked === null ? (to < 0 ? t1 : t0) : walked) + to));
      const box = svg().getBoundingClientRect(), x = x0 + (walked - t0) * (x1 - x0) / (t1 - t0);
      told.setAttribute("role", "status");
      show({ x, at: walked, left: x * box.width / svg().viewBox.baseVal.width + box.left - frame.getBoundingClientRect().left + frame.scrollLeft });
    });
    frame.addEventListener("blur", () => { if (walked !== null) { walked = null; rest(); } });
    frame.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse" && !down.size) rest(); });
    const up = (event) => {
      const where = down.get(event.pointerId);
      down.delete(event.pointerId);
      if (pinch && down.size < 2) {
        const by = pinch.now ? pinch.apart / pinch.now : 1, range = pulled();
        pinch = null; begun = null;
        if (event.type === "pointerup" && Math.abs(by - 1) > 0.15) go(range);
        else rest();
      } else if (begun && where && event.type === "pointerup" && Math.abs(where.left - begun.left) > 24) {
        go(ends(Math.min(where.at, begun.at), Math.max(where.at, begun.at)));
      }
      if (!down.size) { begun = null; stretch.hidden = true; if (figure.dataset.read) hold(15000); }
    };
    for (const name of ["pointerup", "pointercancel"]) addEventListener(name, (event) => { if (down.has(event.pointerId)) up(event); });
  };
  const dress = () => { for (const frame of document.querySelectorAll(".plot-sheet")) plot(frame); };
  sheet.dressers.push(dress);
  dress();
})();
