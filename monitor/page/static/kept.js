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

  const show = () => {
    if (!box) return;
    const some = shelf();
    box.hidden = !some.length;
    box.replaceChildren(...some.map((one) => {
      const row = document.createElement("p"), drop = document.createElement("button");
      row.append(one.wait
        ? `Not written down yet: ${one.words}, ${clock(one.at)}. ${one.wait} `
        : `Kept on this device: ${one.words}, ${clock(one.at)}. It is sent when the yard is back. `);
      if (one.again) { const yes = document.createElement("button"); yes.textContent = "Write it down all the same"; yes.onclick = () => { change(one.id, (old) => [{ ...old, wait: "", fields: [...old.fields, ["again", "1"]] }]); flush(); }; row.append(yes, " "); }
      drop.textContent = "Drop it";
      drop.onclick = () => change(one.id, () => []);
      row.append(drop);
      return row;
    }));
  };

  const post = (path, fields) => fetch(path, {
    method: "POST", body: new URLSearchParams(fields), credentials: "same-origin", headers: { accept: "text/html" },
    signal: path.endsWith("/certificate") ? undefined : AbortSignal.timeout && AbortSignal.timeout(LONGEST_MS),
  });
  const fresh = async (back) => {
    const answer = await fetch(back, { credentials: "same-origin", headers: { accept: "text/html" } });
    if (answer.redirected && new URL(answer.url).pathname === "/enter") return "";
    const field = sheet.parsed(await answer.text()).querySelector('input[name="token"]');
    return field ? field.value : "";
  };
  const text = (doc, where) => { const one = doc.querySelector(where); return one ? one.textContent.trim().replace(/\s+/g, " ") : ""; };

  let sending = false;
  const flush = async () => {
    if (sending || !box) return;
    sending = true;
    try {
      for (const one of shelf()) {
        if (one.wait) continue;
        const token = await fresh(one.back);
        if (!token) break;
        const fields = [...one.fields.filter(([name]) => name !== "token"), ["token", token], ["late_ms", String(Math.max(0, Date.now() - one.at))]];
        const answer = await post(one.path, fields);
        if (answer.ok) { change(one.id, () => []); sheet.renew(); continue; }
        if (answer.status === 401 || answer.status >= 500) break;
        const doc = sheet.parsed(await answer.text());
        change(one.id, (old) => [{ ...old, again: answer.status === 409, wait: text(doc, "#question p, #question") || text(doc, ".wrong") || "The yard did not take it." }]);
      }
    } catch { /* Still lost: it stays kept. */ } finally { sending = false; }
  };

  const busy = new WeakSet();
  const keep = (form, path, fields) => {
    const given = Object.fromEntries(fields);
    // Whoever sends it later, it was written by who is here now.
    if (!given.by && document.body.dataset.name) fields.push(["by", document.body.dataset.name]);
    const more = given.value || (given.amount && `${given.amount} ${given.measure || ""}`) || (given.note || "").slice(0, 40);
    const words = (form.dataset.words || text(document, "main h1") || "an entry") + (more ? `, ${more.trim()}` : "");
    const entry = { id: fields.find(([name]) => name === "entry")[1], path, fields: fields.filter(([name]) => name !== "token"), at: Date.now(), words, back: form.elements.back ? form.elements.back.value : "/", wait: "" };
    if (!store([...shelf(), entry])) return false;
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
    const path = new URL(form.action).pathname, button = event.submitter;
    const fields = [...new FormData(form)].map(([name, value]) => [name, String(value)]);
    if (button && button.name) fields.push([button.name, button.value]);
    const keeps = "keeps" in form.dataset && box;
    if (keeps && !fields.some(([name]) => name === "entry")) fields.push(["entry", mark()]);
    if (path.endsWith("/certificate") && button) button.textContent = "Making it; this takes a while …";
    try {
      let answer = await post(path, fields);
      if (answer.status === 403) {
        // The sheet was opened too long ago: the form goes once more with a token of now.
        const token = await fresh(form.elements.back ? form.elements.back.value : "/");
        if (token) answer = await post(path, [...fields.filter(([name]) => name !== "token"), ["token", token]]);
      }
      if (answer.status === 401) {
        if (keeps) keep(form, path, fields);
        location.assign("/enter?next=" + encodeURIComponent(location.pathname));
      } else sheet.adopt(await answer.text(), answer.url);
    } catch {
      sheet.tell(true);
      if (!keeps || !keep(form, path, fields)) tellLost(form);
    } finally { busy.delete(form); }
  });
  const tellLost = (form) => {
    const line = form.querySelector(".not-sent") || form.appendChild(document.createElement("p"));
    line.className = "wrong not-sent";
    line.setAttribute("role", "alert");
    line.textContent = "No word from the yard: nothing was done. Try again when it is back.";
  };
  sheet.backs.push(flush);
  addEventListener("storage", show);
  setInterval(() => { if (!sheet.gone() && shelf().some((one) => !one.wait)) flush(); }, 10000);
  show();
  flush();
})();
