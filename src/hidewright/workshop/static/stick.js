// Two taps on the photo of a stick: the first on the cup's colour, the second on the other. After the second the difference is shown.
(() => {
  "use strict";
  const form = document.getElementById("marks");
  const photo = form && form.querySelector("[data-photo]");
  if (!photo) return;
  const field = (name) => form.elements.namedItem(name);
  const at = (number) => [field(`x${number}`).value, field(`y${number}`).value];

  const draw = () => {
    for (const old of photo.querySelectorAll("b")) old.remove();
    for (const number of [1, 2]) {
      const [x, y] = at(number);
      if (x === "" || y === "") continue;
      const mark = document.createElement("b");
      mark.textContent = String(number);
      mark.style.left = `${x}%`;
      mark.style.top = `${y}%`;
      photo.append(mark);
    }
  };
  let next = at(1)[0] === "" ? 1 : at(2)[0] === "" ? 2 : 1;
  photo.addEventListener("click", (event) => {
    const frame = photo.getBoundingClientRect();
    const share = (value, size) => Math.min(Math.max((100 * value) / size, 0), 100).toFixed(1);
    if (next === 1) { field("x2").value = ""; field("y2").value = ""; }
    field(`x${next}`).value = share(event.clientX - frame.left, frame.width);
    field(`y${next}`).value = share(event.clientY - frame.top, frame.height);
    draw();
    if (next === 2) form.requestSubmit(form.querySelector("[data-see]"));
    next = next === 1 ? 2 : 1;
  });
  form.addEventListener("input", draw);
  draw();
})();
