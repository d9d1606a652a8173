// Drawing rectangles on a photo: each drag fills the corners of the patch that is chosen, in per cent of the picture.
(() => {
  "use strict";
  const form = document.getElementById("patches");
  const photo = form && form.querySelector("[data-photo]");
  if (!photo) return;
  const SVG = "http://www.w3.org/2000/svg";
  const layer = document.createElementNS(SVG, "svg");
  layer.setAttribute("viewBox", "0 0 100 100");
  layer.setAttribute("preserveAspectRatio", "none");
  layer.setAttribute("aria-hidden", "true");
  photo.append(layer);
  const boxOf = (key) => form.querySelector(`[name="${key}-box"]`);
  const keys = [...form.querySelectorAll('[name="mark"]')].map((radio) => radio.value);
  const chosen = () => form.querySelector('[name="mark"]:checked').value;

  const draw = () => {
    layer.replaceChildren();
    for (const key of keys) {
      const numbers = boxOf(key).value.split(/[\s,]+/).filter(Boolean).map(Number);
      if (numbers.length !== 4 || numbers.some(Number.isNaN)) continue;
      const [left, top, right, bottom] = numbers;
      for (const [colour, width] of [["#000000", 3], ["#ffffff", 1.5]]) {
        const rect = document.createElementNS(SVG, "rect");
        rect.setAttribute("x", left);
        rect.setAttribute("y", top);
        rect.setAttribute("width", Math.max(right - left, 0));
        rect.setAttribute("height", Math.max(bottom - top, 0));
        rect.setAttribute("fill", "none");
        rect.setAttribute("stroke", colour);
        rect.setAttribute("stroke-width", width);
        rect.setAttribute("vector-effect", "non-scaling-stroke");
        if (key !== chosen() && colour === "#ffffff") rect.setAttribute("stroke-dasharray", "4 4");
        layer.append(rect);
      }
    }
  };
  const place = (event) => {
    const frame = photo.getBoundingClientRect();
    const share = (value, size) => Math.min(Math.max((100 * value) / size, 0), 100);
    return [share(event.clientX - frame.left, frame.width), share(event.clientY - frame.top, frame.height)];
  };
  let start = null;
  photo.addEventListener("pointerdown", (event) => {
    start = place(event);
    photo.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  photo.addEventListener("pointermove", (event) => {
    if (!start) return;
    const [x, y] = place(event);
    const corners = [Math.min(x, start[0]), Math.min(y, start[1]), Math.max(x, start[0]), Math.max(y, start[1])];
    boxOf(chosen()).value = corners.map((corner) => corner.toFixed(1)).join(" ");
    draw();
  });
  const end = () => {
    if (!start) return;
    start = null;
    const next = keys.find((key) => !boxOf(key).value);
    if (next === keys[1]) form.querySelector(`[name="mark"][value="${next}"]`).checked = true;
    draw();
  };
  photo.addEventListener("pointerup", end);
  photo.addEventListener("pointercancel", end);
  form.addEventListener("input", draw);
  draw();
})();
