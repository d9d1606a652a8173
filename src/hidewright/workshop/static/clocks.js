// Pot-life clocks: counts the minutes down on the page, and loads it anew when one ends, so that the warning is the server's.
// Counted from what the server says is left, never from the time of day: a tablet's own clock may be hours off.
(() => {
  "use strict";
  const opened = Date.now();
  const clocks = [...document.querySelectorAll("[data-left]")].map((element) => ({ element, left: 1000 * Number(element.dataset.left) }));
  if (!clocks.length) return;
  const words = (minutes) => {
    const hours = Math.floor(minutes / 60);
    const rest = minutes % 60;
    return hours === 0 ? `${minutes} min` : rest ? `${hours} h ${rest} min` : `${hours} h`;
  };
  const show = () => {
    for (const clock of clocks) {
      const left = clock.left - (Date.now() - opened);
      if (left <= 0) { window.location.reload(); return; }
      const mark = clock.element.querySelector(".mark");
      clock.element.textContent = `${words(Math.floor(left / 60000))} of pot life left`;
      if (mark) clock.element.prepend(mark, " ");
    }
  };
  window.setInterval(show, 15000);
  window.addEventListener("pageshow", (event) => { if (event.persisted) window.location.reload(); });
})();
