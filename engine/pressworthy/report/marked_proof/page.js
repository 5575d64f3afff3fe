// Filters by kind, page and house, and listens to the keyboard. All else the style sheet does.
(() => {
  "use strict";
  const find = (selector) => document.querySelector(selector);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const pictures = all(".picture");
  document.documentElement.classList.add("scripts");
  if (matchMedia("(max-width: 60rem)").matches) find(".slip").open = false;

  const filter = () => {
    const off = new Set(all('input[name="kind"]:not(:checked)').map((box) => box.id.slice(2)));
    const page = find("#only-page")?.value ?? "";
    const house = find("#only-house")?.value ?? "";
    let shown = 0;
    for (const picture of pictures) {
      const away =
        off.has(picture.dataset.kind) ||
        (page && picture.dataset.page !== page) ||
        (house && picture.dataset.house !== house);
      picture.classList.toggle("away", Boolean(away));
      shown += away ? 0 : 1;
    }
    find("#count").textContent = `${shown} of ${pictures.length} shown`;
    find("#none").hidden = shown > 0;
  };
  find(".slip").addEventListener("change", filter);
  find(".slip form").addEventListener("submit", (event) => event.preventDefault());

  const step = (by) => {
    const open = pictures.filter((picture) => !picture.classList.contains("away"));
    const at = open.indexOf(document.activeElement?.closest(".picture"));
    const next = open[Math.min(Math.max(at + by, 0), open.length - 1)];
    next?.focus({ preventScroll: true });
    next?.scrollIntoView({ block: "start" });
  };
  const press = (id) => find(`#${id}`)?.click();
  const keys = {
    1: () => press("v-supplied"),
    2: () => press("v-soft"),
    3: () => press("v-print"),
    4: () => press("v-mono"),
    b: () => press(find("#s-after").checked ? "s-before" : "s-after"),
    w: () => press("paper"),
    g: () => press("o-gamut"),
    i: () => press("o-ink"),
    m: () => press("large"),
    j: () => step(1),
    k: () => step(-1),
  };
  document.addEventListener("keydown", (event) => {
    const typing = event.target.closest?.("select, textarea");
    if (event.ctrlKey || event.metaKey || event.altKey || typing || !find("#keys").checked) return;
    if (!keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
  });
})();
