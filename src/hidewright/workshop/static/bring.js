// Pictures go to the shop one by one behind the page, each under a token of its own, so that one sent twice counts once.
// What does not get through is tried again; without this script the form sends them all at once.
(() => {
  "use strict";
  const token = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
  const rest = (ms) => new Promise((done) => { window.setTimeout(done, ms); });
  const send = async (form, file, act) => {
    const data = new FormData(form);
    data.delete("pictures"); data.append("pictures", file, file.name); data.set("act", act);
    for (let wait = 1000; ; wait = Math.min(30000, wait * 2)) {
      try {
        const answer = await fetch(form.action, { method: "POST", body: data, credentials: "same-origin" });
        if (answer.ok || answer.redirected) return "";
        if (answer.status < 500) {
          const page = new DOMParser().parseFromString(await answer.text(), "text/html");
          const fault = page.querySelector("[data-bring] .error, .refusal li");
          return fault ? fault.textContent.trim() : "was not taken";
        }
      } catch { /* the shop's server is out of reach: try again */ }
      await rest(wait);
    }
  };
  for (const form of document.querySelectorAll("[data-bring]")) {
    const line = form.querySelector(".bring-state"), field = form.querySelector("input[type=file]");
    form.addEventListener("submit", async (event) => {
      const files = [...field.files];
      if (!files.length || !window.fetch) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      const faults = [];
      line.hidden = false;
      window.onbeforeunload = () => true;
      for (const [n, file] of files.entries()) {
        line.textContent = `${n + 1} of ${files.length}: ${file.name}`;
        const fault = await send(form, file, token());
        if (fault) faults.push(`${file.name}: ${fault}`);
      }
      window.onbeforeunload = null;
      if (!faults.length) { window.location.assign(window.location.pathname); return; }
      line.classList.add("error");
      line.textContent = `${files.length - faults.length} of ${files.length} brought. ${faults.join(" ")}`;
      field.value = "";
    }, true);
  }
  // While pictures wait to be made smaller, the page looks again now and then, and shows them once all are there.
  const waiting = document.querySelector("[data-waiting]");
  if (waiting) {
    const look = async () => {
      await rest(3000);
      try {
        const left = Number(await (await fetch(waiting.dataset.waiting, { credentials: "same-origin" })).text());
        const busy = document.activeElement && document.activeElement.matches("input, textarea, select");
        if (left === 0 && !busy && !window.onbeforeunload) { window.location.reload(); return; }
      } catch { /* out of reach: look again */ }
      look();
    };
    look();
  }
})();
