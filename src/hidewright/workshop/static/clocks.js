// Pot-life clocks: counts the minutes down on the page, and loads it anew when one ends, so that the warning is the server's.
(() => {
  "use strict";
  const clocks = [...document.querySelectorAll("[data-ends]")].map((element) => ({ element, ends: Date.parse(element.dataset.ends) }));
  if (!clocks.length) return;
  const show = () => {
    for (const { element, ends } of clocks) {
      const left = ends - Date.now();
      if (left <= 0) { window.location.reload(); return; }
      const minutes = Math.floor(left / 60000);
      const mark = element.querySelector(".mark");
      element.textContent = `${minutes} min of pot life left`;
      if (mark) element.prepend(mark, " ");
    }
  };
  window.setInterval(show, 15000);
})();
