"use strict";
// Forms go without leaving the sheet. What is written down while the yard is lost is kept on this device and sent when it is
// back, once: each entry carries an id, and how long ago it was pressed.
(() => {
  const SHELF = "heaptender-kept", LONGEST_MS = 20000;
  const box = document.getElementById("kept");
  const shelf = () => { try { return JSON.parse(localStorage.getItem(SHELF)) || []; } catch { return []; } };
  const store = (some) => { try { localStorage.setItem(SHELF, JSON.stringify(some)); return true; } catch { return false; } };
  const change = (id, what) => { store(shelf().flatMap((one) => one.id === id ? what(one) : [one])); show(); };
  const mark = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => (one % 36).toString(36)).join("") + Date.now().toString(36);
  const clock = (at) => new Date(at).toLocaleString("en-GB", { weekday: "short", hour: "2-digit", minute: "2-digit" });

  const button = (words, does, main = false) => {
    const made = document.createElement("button");
    made.textContent = words;
    if (main) made.className = "main";
    made.onclick = () => does(made);
    return made;
  };
  const line = (words, className = "") => {
    const made = document.createElement("p");
    made.textContent = words;
    if (className) made.className = className;
    return made;
  };
  const rowOf = (one) => {
    const row = document.createElement("li");
    row.append(`${one.words}, ${clock(one.at)}. ${one.wait ? `Not written down yet: ${one.wait} ` : ""}`);
    if (one.again) row.append(button("Write it down all the same", () => { change(one.id, (old) => [{ ...old, wait: "", again: false, fields: [...old.fields, ["again", "1"]] }]); flush(); }), " ");
    // What is thrown away is gone for good, so one slip of the thumb is not enough.
    row.append(button("Throw away", (own) => {
      if (own.dataset.sure) { change(one.id, () => []); return; }
      own.dataset.sure = "1";
      own.textContent = "Throw away for good";
    }));
    return row;
  };
  const count = (number) => number === 1 ? "1 entry waits" : `${number} entries wait`;
  let shown = "", said = "";
  const show = () => {
    if (!box) return;
    const some = shelf(), ready = some.filter((one) => !one.wait), stand = JSON.stringify([some.map((one) => ({ ...one, photo: "" })), said]);
    // Whoever is about to press a button here keeps it.
    if (stand === shown) return;
    shown = stand;
    box.hidden = !some.length;
    const list = document.createElement("ul");
    list.append(...some.map(rowOf));
    const head = line("", "count");
    head.setAttribute("role", "status");
    box.replaceChildren(head, list);
    head.textContent = `${count(some.length)} on this device${said ? `. ${said}` : ""}`;
    if (!ready.length) return;
    const own = button("Send now", async () => { own.disabled = true; said = await flush(); show(); own.disabled = false; }, true);
    box.append(own, line("It goes by itself when the yard is back, while one of its sheets is open here. With none open, this browser sends nothing: open the yard again.", "hint"));
  };

  // What makes a photo small is loaded with the first form that takes one.
  const asked = () => {
    const where = document.querySelector("[data-photo]");
    if (!where || typeof photo !== "undefined" || document.querySelector("script[data-photos]")) return;
    const script = document.createElement("script");
    script.dataset.photos = "";
    script.src = where.dataset.photo;
    document.head.append(script);
  };
  const small = () => typeof photo === "undefined" ? null : photo;
  const fileOf = (kept) => new Blob([Uint8Array.from(atob(kept.slice(kept.indexOf(",") + 1)), (one) => one.charCodeAt(0))], { type: "image/jpeg" });
  const bodyOf = (fields, file) => {
    if (!file) return new URLSearchParams(fields);
    const body = new FormData();
    for (const [name, value] of fields) body.append(name, value);
    body.append("photo_file", file, "photo.jpg");
    return body;
  };
  const post = (path, fields, file) => fetch(path, {
    method: "POST", body: bodyOf(fields, file), credentials: "same-origin", headers: { accept: "text/html" },
    signal: path.endsWith("/certificate") ? undefined : AbortSignal.timeout && AbortSignal.timeout(LONGEST_MS * (file ? 3 : 1)),
  });
  const fresh = async (back) => {
    const answer = await fetch(back, { credentials: "same-origin", headers: { accept: "text/html" } });
    if (answer.redirected && new URL(answer.url).pathname === "/enter") return "";
    const field = sheet.parsed(await answer.text()).querySelector('input[name="token"]');
    return field ? field.value : "";
  };
  const text = (doc, where) => { const one = doc.querySelector(where); return one ? one.textContent.trim().replace(/\s+/g, " ") : ""; };

  let sending = false;
  // Sends what is ready to go; returns what keeps it, in words.
  const flush = async () => {
    if (sending || !box) return "";
    sending = true;
    try {
      for (const one of shelf()) {
        if (one.wait) continue;
        const token = await fresh(one.back);
        if (!token) return "Sign in again, then it is sent.";
        const fields = [...one.fields.filter(([name]) => name !== "token"), ["token", token], ["late_ms", String(Math.max(0, Date.now() - one.at))]];
        const answer = await post(one.path, fields, one.photo && fileOf(one.photo));
        if (answer.ok) { change(one.id, () => []); sheet.renew(); continue; }
        if (answer.status === 401) return "Sign in again, then it is sent.";
        if (answer.status >= 500) return "The yard cannot take it just now.";
        const doc = sheet.parsed(await answer.text());
        change(one.id, (old) => [{ ...old, again: answer.status === 409, wait: text(doc, "#question p, #question") || text(doc, ".wrong") || "the yard did not take it." }]);
      }
      return "";
    } catch { return "Still no word from the yard."; } finally { sending = false; }
  };

  const busy = new WeakSet();
  const keep = async (form, path, fields, file) => {
    const given = Object.fromEntries(fields);
    // Whoever sends it later, it was written by who is here now.
    if (!given.by && document.body.dataset.name) fields.push(["by", document.body.dataset.name]);
    const more = given.value || (given.amount && `${given.amount} ${given.measure || ""}`) || (given.note || "").slice(0, 40);
    const words = (form.dataset.words || text(document, "main h1") || "an entry") + (more ? `, ${more.trim()}` : "");
    const entry = { id: fields.find(([name]) => name === "entry")[1], path, fields: fields.filter(([name]) => name !== "token"), at: Date.now(), words, back: form.elements.back ? form.elements.back.value : "/", wait: "" };
    const kept = file && small() ? await small().kept(file).catch(() => "") : "";
    const put = (picture) => store([...shelf(), { ...entry, photo: picture, words: words + (picture ? ", with its photo" : file ? ", without its photo, which this device cannot keep" : "") }]);
    if (!(kept && put(kept)) && !put("")) return false;
    show();
    box.scrollIntoView({ block: "nearest" });
    form.reset();
    for (let one = form.closest("details"); one; one = one.parentElement.closest("details")) one.open = false;
    return true;
  };
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || !new URL(form.action).pathname.startsWith("/do/") || event.defaultPrevented) return;
    event.preventDefault();
    // A second tap of a muddy thumb is not a second entry.
    if (busy.has(form)) return;
    busy.add(form);
    form.setAttribute("aria-busy", "true");
    const path = new URL(form.action).pathname, button = event.submitter;
    if (small()) await small().ready();
    const given = [...new FormData(form)], fields = given.filter(([, value]) => typeof value === "string");
    const file = given.map(([, value]) => value).find((value) => typeof value !== "string" && value.size);
    if (button && button.name) fields.push([button.name, button.value]);
    const keeps = "keeps" in form.dataset && box;
    if (keeps && !fields.some(([name]) => name === "entry")) fields.push(["entry", mark()]);
    if (path.endsWith("/certificate") && button) button.textContent = "Making it; this takes a while …";
    try {
      let answer = await post(path, fields, file);
      if (answer.status === 403) {
        // The sheet was opened too long ago: the form goes once more with a token of now.
        const token = await fresh(form.elements.back ? form.elements.back.value : "/");
        if (token) answer = await post(path, [...fields.filter(([name]) => name !== "token"), ["token", token]], file);
      }
      if (answer.status === 401) {
        if (keeps) await keep(form, path, fields, file);
        location.assign("/enter?next=" + encodeURIComponent(location.pathname));
      } else sheet.adopt(await answer.text(), answer.url);
    } catch {
      sheet.tell(true);
      if (!keeps || !await keep(form, path, fields, file)) tellLost(form);
    } finally { busy.delete(form); form.removeAttribute("aria-busy"); }
  });
  const tellLost = (form) => {
    const line = form.querySelector(".not-sent") || form.appendChild(document.createElement("p"));
    line.className = "wrong not-sent";
    line.setAttribute("role", "alert");
    line.textContent = "No word from the yard: nothing was done. Try again when it is back.";
  };
  sheet.backs.push(() => { said = ""; flush().then(show); });
  addEventListener("storage", show);
  setInterval(() => { if (!sheet.gone() && shelf().some((one) => !one.wait)) flush(); }, 10000);
  sheet.dressers.push(asked);
  asked();
  show();
  flush();
})();
