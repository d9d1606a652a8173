// Where there is room, what is folded for a phone stands open; and a link to something folded opens it.
(() => {
  "use strict";
  const open = (part) => {
    for (let box = part && part.closest("details"); box; box = box.parentElement && box.parentElement.closest("details")) box.open = true;
  };
  const wide = window.matchMedia("(min-width: 900px)");
  const unfold = () => {
    if (!wide.matches) return;
    for (const box of document.querySelectorAll("details[data-wide]")) {
      // What is fetched when it opens waits until the page's other scripts listen.
      if (box.hasAttribute("hx-get")) window.addEventListener("load", () => { box.open = true; });
      else box.open = true;
    }
  };
  const follow = () => {
    const part = window.location.hash && document.getElementById(window.location.hash.slice(1));
    if (!part) return;
    open(part);
    part.scrollIntoView();
  };
  unfold();
  follow();
  window.addEventListener("hashchange", follow);
})();
