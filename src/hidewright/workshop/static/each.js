// A session's lines come once, as a short list; what is tapped, left out or chosen one by one is built from it here: the page stays light, and all of it works without a network too.
(() => {
  "use strict";
  const node = (tag, facts, ...inside) => {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(facts)) made.setAttribute(name, value);
    made.append(...inside.filter(Boolean));
    return made;
  };
  const named = (mark, name) => [node("strong", {}, mark), name && ` ${name}`];

  const line = (list, [key, mark, name, start, done, step]) => {
    const kind = done ? "undo" : "done";
    const link = node("a", { class: "piece-link", href: `${list.dataset.pieces}${encodeURIComponent(mark)}/` }, node("strong", {}, mark));
    const words = node("span", {}, node("span", { class: "act-time" }, start), " ", link, step && ` ${step}`, name && " ", name && node("span", { class: "hint" }, name));
    const button = node("button", { class: "button tap", name: "only", value: `${kind}:${key}`, "data-kind": kind, "aria-pressed": String(Boolean(done)), "aria-label": [step || list.dataset.title, mark, name].filter(Boolean).join(" ") },
      node("span", { class: "tap-box", "aria-hidden": "true" }), node("span", { "data-words": "" }, done ? "Done" : "Tap when done"));
    return node("li", { "data-act": key, "data-piece": mark, "data-state": done ? "done" : "open" }, words, button);
  };
  const tick = (form, mark, name) => node("label", { class: "check" }, node("input", { type: "checkbox", name: "but", value: mark, form }), " ", node("span", {}, ...named(mark, name)));
  const choice = ([key, mark, name, , , step]) => node("option", { value: key }, [mark, name].filter(Boolean).join(", ") + (step ? `: ${step}` : ""));

  const build = () => {
    for (const sent of document.querySelectorAll("details.snag > script[type='application/json']")) {
      const lines = JSON.parse(sent.textContent);
      const box = sent.parentElement;
      sent.remove();
      const list = box.querySelector(".one-by-one");
      list.append(...lines.map((one) => line(list, one)));
      box.querySelector("select[name=act_key]").append(...lines.map(choice));
      const but = box.querySelector(".but");
      if (!but) continue;
      const open = lines.some((one) => !one[4]) ? lines.filter((one) => !one[4]) : lines;
      for (const [, mark, name] of new Map(open.map((one) => [`${one[1]} ${one[2]}`, one])).values()) but.append(tick(but.dataset.form, mark, name));
    }
  };
  build();
  // Before the taps that still wait are shown on what was fetched.
  document.addEventListener("htmx:afterSwap", build, true);
})();
