// Taps that are never lost: each is put into this device's own queue first, then sent until the shop's server says it has it.
// Every tap carries a token, so that one sent twice counts once. Without this script the forms work as plain forms.
(() => {
  "use strict";
  const KEY = "hidewright.taps";
  const read = () => {
    try { return JSON.parse(localStorage.getItem(KEY)) || []; } catch { return []; }
  };
  const write = (queue) => localStorage.setItem(KEY, JSON.stringify(queue));
  const cookie = (name) => (document.cookie.split("; ").find((c) => c.startsWith(`${name}=`)) || "").slice(name.length + 1);
  const token = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
  let sending = false;
  let wait = 1000;
  let timer = 0;

  const say = () => {
    const line = document.getElementById("taps-state");
    if (!line) return;
    const waiting = read().length;
    line.hidden = waiting === 0;
    line.dataset.waiting = String(waiting);
    line.textContent = waiting === 0 ? "" : `${waiting} tap${waiting === 1 ? "" : "s"} kept on this device, waiting for the shop’s server. Nothing is lost; go on working.`;
  };

  const paint = (row, done) => {
    row.dataset.state = done ? "done" : "open";
    const button = row.querySelector("button[data-kind]");
    if (!button) return;
    button.dataset.kind = done ? "undo" : "done";
    button.setAttribute("aria-pressed", String(done));
    button.querySelector("[data-words]").textContent = done ? "Done" : "Tap when done";
    if (button.name === "only") button.value = `${button.dataset.kind}:${row.dataset.act}`;
    const kind = button.closest("form").querySelector("input[name=kind]");
    if (kind) kind.value = button.dataset.kind;
  };

  // A row tells one act, or a group of like acts; a group is done when all of its acts are.
  const show = (keys, state) => {
    const done = state === "done";
    const told = new Set(keys);
    for (const one of document.querySelectorAll("li[data-act]:not([data-keys]), li[data-keys='1']")) {
      if (told.has(one.dataset.act)) paint(one, done);
    }
    for (const group of document.querySelectorAll("li[data-keys]:not([data-keys='1'])")) {
      const members = [...group.querySelectorAll(".one-by-one > li")];
      if (!members.some((one) => told.has(one.dataset.act))) continue;
      const missing = members.filter((one) => one.dataset.state !== "done").map((one) => one.dataset.act);
      paint(group, missing.length === 0);
      for (const form of group.querySelectorAll("form[data-all]")) {
        for (const field of form.querySelectorAll("input[name=act_key]")) field.remove();
        for (const key of missing.length ? missing : members.map((one) => one.dataset.act)) {
          const field = document.createElement("input");
          field.type = "hidden"; field.name = "act_key"; field.value = key;
          field.dataset.piece = members.find((one) => one.dataset.act === key).dataset.piece;
          form.append(field);
        }
      }
    }
  };

  const send = async () => {
    if (sending) return;
    sending = true;
    window.clearTimeout(timer);
    try {
      for (let queue = read(); queue.length; queue = read()) {
        const tap = queue[0];
        const answer = await fetch(tap.url, {
          method: "POST", credentials: "same-origin", redirect: "error",
          headers: { "X-CSRFToken": cookie("csrftoken"), "Accept": "application/json" },
          body: new URLSearchParams(tap.fields),
        });
        if (answer.ok || answer.status === 422 || answer.status === 404) {
          write(read().filter((other) => other.token !== tap.token));
          if (answer.ok) await noted(answer);
          else refused(tap, answer.status === 422 ? (await answer.json()).error : "This job is gone.");
          wait = 1000;
        } else if (answer.status === 403) {
          // The page's key has grown old or the door was shut: the taps stay in the queue until the page is loaded again.
          throw new Error("403");
        } else throw new Error(String(answer.status));
      }
    } catch {
      timer = window.setTimeout(send, wait);
      wait = Math.min(wait * 2, 30000);
    } finally {
      sending = false;
      say();
    }
  };

  // What the shop's book found odd about a tap that it took.
  const noted = async (answer) => {
    const words = (await answer.json()).note;
    const line = document.getElementById("taps-noted");
    if (!line || !words) return;
    line.hidden = false;
    line.textContent = words;
  };

  const refused = (tap, words) => {
    const line = document.getElementById("taps-refused");
    if (!line) return;
    line.hidden = false;
    line.textContent = `A tap was not taken: ${words} Reload the page to see how things are now.`;
  };

  // Any other form that would be sent into the void stays as it is, with what was written in it.
  const keepForm = (event, form) => {
    if (form.method !== "post" || (navigator.onLine && !("kept" in document.body.dataset))) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    window.setTimeout(() => { for (const button of form.querySelectorAll("button[disabled]")) button.disabled = false; }, 1);
    const line = document.getElementById("link-state");
    if (!line) return;
    line.hidden = false;
    line.textContent = "Not sent: this device is off the network. What you wrote stays here; press the button again when the network is back.";
  };

  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-tap]");
    if (!form) {
      keepForm(event, event.target);
      return;
    }
    event.preventDefault();
    event.stopImmediatePropagation();
    // Another listener rests the buttons of a form that was sent; this one was not, so wake them again.
    window.setTimeout(() => { for (const button of form.querySelectorAll("button[disabled]")) button.disabled = false; }, 1);
    const data = new FormData(form);
    data.delete("csrfmiddlewaretoken");
    data.delete("act");
    if (event.submitter && event.submitter.name === "only") {
      const [how, ...key] = event.submitter.value.split(":");
      data.set("kind", how);
      data.set("act_key", key.join(":"));
    }
    data.delete("only");
    data.set("token", token());
    data.set("at", new Date().toISOString());
    const fields = [...data.entries()];
    const out = new Set(data.getAll("but"));
    const left = new Set([...form.querySelectorAll("input[data-piece]")].filter((one) => out.has(one.dataset.piece)).map((one) => one.value));
    const keys = data.getAll("act_key").filter((key) => !left.has(key));
    const kind = data.get("kind");
    try {
      write([...read(), { url: form.action, token: data.get("token"), keys, kind, fields }]);
    } catch {
      form.submit(); // No room on this device: send it the plain way.
      return;
    }
    if (kind === "snag") {
      form.reset();
      const box = form.closest("details");
      if (box) box.open = false;
      const row = form.closest("[data-keys]");
      const told = row && row.querySelector("[data-snag]");
      if (told) { told.hidden = false; told.textContent = `${told.dataset.word}: ${data.get("note")}`; }
    } else {
      if (data.get("minutes") || out.size) form.reset();
      show(keys, kind === "done" ? "done" : "open");
    }
    say();
    send();
  }, true);

  window.addEventListener("online", () => { wait = 1000; send(); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  window.addEventListener("storage", (event) => { if (event.key === KEY) say(); });
  const showWaiting = () => {
    for (const tap of read()) if (tap.kind !== "snag") show(tap.keys, tap.kind === "done" ? "done" : "open");
  };
  document.addEventListener("htmx:afterSwap", showWaiting);
  document.addEventListener("DOMContentLoaded", () => {
    showWaiting();
    say();
    send();
  });
})();
