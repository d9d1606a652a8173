// Small helps for every page: one tap counts once, asking before what cannot be undone, and saying when the shop's server is out of reach.
(() => {
  "use strict";

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const question = (event.submitter && event.submitter.dataset.confirm) || form.dataset.confirm;
    if (question && !window.confirm(question)) {
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    if (form.method !== "post" || form.hasAttribute("hx-post")) return;
    // The token makes a second tap harmless on the server; this only spares the waiting.
    window.setTimeout(() => {
      for (const button of form.querySelectorAll("button:not([type=button])")) button.disabled = true;
    }, 0);
  }, true);

  // On a phone the stages stand in one line that scrolls: the page's own is in sight.
  document.addEventListener("DOMContentLoaded", () => {
    for (const here of document.querySelectorAll(".stages [aria-current]")) {
      const line = here.parentElement;
      line.scrollLeft = here.offsetLeft - line.offsetLeft - (line.clientWidth - here.offsetWidth) / 2;
    }
  });

  // A form that was refused comes back as a whole page: its first fault is brought into view, and the field it is about takes the next key.
  document.addEventListener("DOMContentLoaded", () => {
    const fault = document.querySelector("main .field.wrong .error, main form [role=alert]") || document.querySelector("main > [role=alert]");
    if (!fault) return;
    for (let fold = fault.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    const inForm = fault.closest("form");
    const field = (fault.closest(".field") || (inForm && inForm.querySelector(".field.wrong")) || fault).querySelector("input:not([type=hidden]), select, textarea");
    fault.scrollIntoView({ block: "center" });
    if (!field) fault.tabIndex = -1;
    (field || fault).focus({ preventScroll: true });
  });

  window.addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    for (const button of document.querySelectorAll("form button[disabled]")) button.disabled = false;
  });

  document.addEventListener("click", (event) => {
    for (const menu of document.querySelectorAll("details.menu[open], details.fold-out[open]")) {
      if (!menu.contains(event.target)) menu.open = false;
    }
    const printer = event.target.closest("[data-print]");
    if (printer) window.print();
  });

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const menu of document.querySelectorAll("details.menu[open], details.fold-out[open]")) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });

  // On paper nothing can be unfolded: what only tells is opened for the print, what asks stays shut.
  window.addEventListener("beforeprint", () => {
    for (const fold of document.querySelectorAll("main details:not([open])")) {
      if (fold.querySelector("form, input:not([type=checkbox]):not([type=hidden])")) continue;
      fold.dataset.printed = "";
      fold.open = true;
    }
  });
  window.addEventListener("afterprint", () => {
    for (const fold of document.querySelectorAll("details[data-printed]")) {
      delete fold.dataset.printed;
      fold.open = false;
    }
  });

  // The worker keeps the bench's pages on this device; browsers allow it only where nobody can listen in (https, or the shop's computer itself).
  window.addEventListener("load", () => {
    const worker = document.body.dataset.worker;
    if (worker && "serviceWorker" in navigator) navigator.serviceWorker.register(worker, { updateViaCache: "none" }).catch((error) => console.info(`Pages are not kept on this device: ${error.message}`));
  });

  // A kept page asks every few seconds whether the shop's server is back, and gives way to the live one, unless something is being written on it.
  const askAgain = async () => {
    const answer = await fetch(document.body.dataset.worker, { method: "HEAD", cache: "no-store" }).catch(() => null);
    const words = document.querySelector(".kept-words strong");
    if (!answer) window.setTimeout(askAgain, 4000);
    else if (!written) window.location.reload();
    else if (words) words.textContent = "The network is back.";
  };
  let written = false;
  document.addEventListener("input", () => { written = true; });
  document.addEventListener("DOMContentLoaded", () => {
    if ("kept" in document.body.dataset) window.setTimeout(askAgain, 2000);
  });

  const state = () => document.getElementById("link-state");
  const say = (text) => {
    const line = state();
    if (!line) return;
    line.hidden = !text;
    line.textContent = text;
  };
  document.addEventListener("htmx:sendError", () => say("The shop's server is out of reach. Trying again; nothing you saved is lost."));
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.successful) say("");
  });
  window.addEventListener("offline", () => say("This device is off the network. What was saved is saved."));
  window.addEventListener("online", () => say(""));
})();
