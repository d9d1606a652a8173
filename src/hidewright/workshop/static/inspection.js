// Marking many pieces at once; the buttons stay in sight while something is marked.
(() => {
  "use strict";
  const form = document.querySelector("#eyes, form[data-marks]");
  if (!form) return;
  const boxes = (within) => [...within.querySelectorAll('input[name="piece"]')];
  const all = form.querySelector("[data-all]");
  const count = form.querySelector("[data-count]");
  const bulk = form.querySelector("[data-bulk]");
  const show = (master, within) => {
    const found = boxes(within);
    const marked = found.filter((box) => box.checked).length;
    master.checked = marked > 0 && marked === found.length;
    master.indeterminate = marked > 0 && marked < found.length;
    return marked;
  };
  const tell = () => {
    for (const master of form.querySelectorAll("[data-group]")) show(master, master.closest("details"));
    const marked = all ? show(all, form) : 0;
    if (count) count.textContent = marked ? `${marked} marked` : "Nothing is marked yet.";
    if (bulk) bulk.classList.toggle("stuck", marked > 0);
  };
  form.addEventListener("change", (event) => {
    const master = event.target;
    if (master === all) for (const box of boxes(form)) box.checked = all.checked;
    else if (master.matches("[data-group]")) for (const box of boxes(master.closest("details"))) box.checked = master.checked;
    tell();
  });
  window.addEventListener("pageshow", tell);
  tell();
})();
