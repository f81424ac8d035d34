// The two ends of a passage on its skyline: dragged by pointer or moved by keys. The selects
// beside them hold the measures; every move asks for a new look through the form's "ends" event.
(() => {
  const KEYS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -4, PageUp: 4 };

  function pieces(inside) {
    const whole = inside.closest("[data-ends]");
    const drawing = whole.querySelector("[data-handles]");
    const form = whole.querySelector("[data-ends-form]");
    return {
      drawing, form,
      first: form.elements.first, last: form.elements.last,
      unit: Number(drawing.dataset.unit), pad: Number(drawing.dataset.pad),
      count: Number(drawing.dataset.count),
    };
  }

  const ends = (all) => ({ first: Number(all.first.value), last: Number(all.last.value) });

  function show(all) {
    const { first, last } = ends(all);
    const from = all.pad + first * all.unit;
    const to = all.pad + (last + 1) * all.unit;
    const band = all.drawing.querySelector("[data-band]");
    band.setAttribute("x", from);
    band.setAttribute("width", Math.max(0, to - from));
    for (const [name, x] of [["first", from], ["last", to]]) {
      const handle = all.drawing.querySelector(`[data-end=${name}]`);
      const select = all[name];
      handle.setAttribute("transform", `translate(${x} 0)`);
      handle.setAttribute("aria-valuenow", select.value);
      handle.setAttribute("aria-valuetext", `measure ${select.selectedOptions[0].text}`);
    }
  }

  function set(all, first, last) {
    const now = ends(all);
    if (first === now.first && last === now.last) return;
    all.first.value = first;
    all.last.value = last;
    show(all);
    all.form.dispatchEvent(new CustomEvent("ends"));
  }

  const within = (value, low, high) => Math.min(high, Math.max(low, value));

  // Move one end, or both with what is between them.
  function move(all, which, by, from = ends(all)) {
    if (which === "first") set(all, within(from.first + by, 0, from.last), from.last);
    else if (which === "last") set(all, from.first, within(from.last + by, from.first, all.count - 1));
    else {
      const step = within(by, -from.first, all.count - 1 - from.last);
      set(all, from.first + step, from.last + step);
    }
  }

  let drag = null;

  document.addEventListener("pointerdown", (event) => {
    const held = event.target.closest("[data-end], [data-band]");
    if (!held || event.button) return;
    const all = pieces(held);
    drag = {
      all, held, which: held.dataset.end || "both", from: ends(all),
      x: event.clientX + all.drawing.parentElement.parentElement.scrollLeft, id: event.pointerId,
    };
    held.setPointerCapture(event.pointerId);
    if (held.dataset.end) held.focus({ preventScroll: true });
    event.preventDefault();
  });

  document.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.id) return;
    const scrolled = drag.all.drawing.parentElement.parentElement.scrollLeft;
    const by = Math.round((event.clientX + scrolled - drag.x) / drag.all.unit);
    move(drag.all, drag.which, by, drag.from);
  });

  for (const name of ["pointerup", "pointercancel"]) {
    document.addEventListener(name, () => { drag = null; });
  }

  document.addEventListener("keydown", (event) => {
    const handle = event.target.closest && event.target.closest("[data-end]");
    if (!handle) return;
    const all = pieces(handle);
    const which = event.shiftKey ? "both" : handle.dataset.end;
    if (event.key === "Home") move(all, which, -all.count);
    else if (event.key === "End") move(all, which, all.count);
    else if (event.key in KEYS) move(all, which, KEYS[event.key]);
    else return;
    event.preventDefault();
  });

  // Chosen in the selects: the other end gives way rather than stand on the wrong side.
  document.addEventListener("change", (event) => {
    const form = event.target.closest && event.target.closest("[data-ends-form]");
    if (!form) return;
    const all = pieces(form);
    const { first, last } = ends(all);
    if (first > last) all[event.target.name === "first" ? "last" : "first"].value = event.target.value;
    show(all);
  }, true);

  function toPassage(root) {
    for (const scroll of root.querySelectorAll("[data-scroll]")) {
      const all = pieces(scroll);
      const from = all.pad + ends(all).first * all.unit;
      scroll.scrollLeft = Math.max(0, from - scroll.clientWidth / 3);
    }
  }

  document.addEventListener("htmx:load", (event) => toPassage(event.target));
  document.addEventListener("DOMContentLoaded", () => toPassage(document));
})();
