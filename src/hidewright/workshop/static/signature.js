// A field that is signed in: what the finger draws is kept as strokes in the hidden field beside it.
(() => {
  "use strict";
  const WIDTH = 1000, HEIGHT = 400, MOST = 3500;
  for (const box of document.querySelectorAll("[data-sign]")) {
    const canvas = box.querySelector("canvas"), field = box.querySelector("input"), pen = canvas.getContext("2d");
    let strokes = [], stroke = null, points = 0;
    const place = (event) => {
      const at = canvas.getBoundingClientRect();
      const clamp = (value, most) => Math.max(0, Math.min(most, Math.round(value)));
      return [clamp((event.clientX - at.left) / at.width * WIDTH, WIDTH), clamp((event.clientY - at.top) / at.height * HEIGHT, HEIGHT)];
    };
    const draw = () => {
      pen.clearRect(0, 0, WIDTH, HEIGHT);
      pen.strokeStyle = pen.fillStyle = "#1f2328"; pen.lineWidth = 5; pen.lineCap = pen.lineJoin = "round";
      for (const line of strokes) {
        pen.beginPath();
        if (line.length === 1) { pen.arc(line[0][0], line[0][1], 3, 0, 7); pen.fill(); continue; }
        line.forEach(([x, y], n) => (n ? pen.lineTo(x, y) : pen.moveTo(x, y)));
        pen.stroke();
      }
    };
    const keep = () => { field.value = strokes.length ? JSON.stringify(strokes) : ""; draw(); };
    try { strokes = JSON.parse(field.value) || []; } catch { strokes = []; }
    keep();
    canvas.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      canvas.setPointerCapture(event.pointerId);
      stroke = [place(event)]; strokes.push(stroke); points += 1; draw();
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!stroke || points >= MOST) return;
      const [x, y] = place(event), [x0, y0] = stroke[stroke.length - 1];
      if (Math.abs(x - x0) + Math.abs(y - y0) < 4) return;
      stroke.push([x, y]); points += 1; draw();
    });
    const end = () => { if (stroke) { stroke = null; keep(); } };
    canvas.addEventListener("pointerup", end);
    canvas.addEventListener("pointercancel", end);
    box.querySelector("[data-clear]").addEventListener("click", () => { strokes = []; points = 0; keep(); });
  }
})();
