// Filters by kind, page and house, and listens to the keyboard. All else the style sheet does.
(() => {
  "use strict";
  const find = (selector) => document.querySelector(selector);
  const all = (selector) => [...document.querySelectorAll(selector)];
  // asked for anew each time: on an open sheet pictures come and go
  const pictures = () => all(".picture");
  const slip = find(".slip");
  const root = document.documentElement;
  root.classList.add("scripts");
  // what is gone to lands beneath the slip
  const measure = () => root.style.setProperty("--slip", `${slip.offsetHeight}px`);
  new ResizeObserver(measure).observe(slip);
  measure();

  const filter = () => {
    const off = new Set(all('input[name="kind"]:not(:checked)').map((box) => box.id.slice(2)));
    const page = find("#only-page")?.value ?? "";
    const house = find("#only-house")?.value ?? "";
    let shown = 0;
    for (const picture of pictures()) {
      const away =
        off.has(picture.dataset.kind) ||
        (page && picture.dataset.page !== page) ||
        (house && picture.dataset.house !== house);
      picture.classList.toggle("away", Boolean(away));
      shown += away ? 0 : 1;
    }
    find("#count").textContent = `${shown} of ${pictures().length} shown`;
    find("#none").hidden = shown > 0;
  };
  slip.addEventListener("change", filter);
  find(".slip form").addEventListener("submit", (event) => event.preventDefault());
  // a link to a picture that is filtered out brings all pictures back
  document.addEventListener("click", (event) => {
    if (!slip.contains(event.target)) find(".slip details").open = false;
    const target = event.target.closest?.('a[href^="#p"]')?.getAttribute("href");
    if (!target || !find(target)?.classList.contains("away")) return;
    for (const box of all('input[name="kind"]')) box.checked = true;
    for (const list of all(".slip select")) list.value = "";
    filter();
  });

  const step = (by) => {
    const open = pictures().filter((picture) => !picture.classList.contains("away"));
    const tops = open.map((picture) => picture.getBoundingClientRect().top - slip.offsetHeight);
    // at the top of the window, give or take what scrolling rounds
    const at = by > 0 ? tops.findIndex((top) => top > 8) : tops.findLastIndex((top) => top < -8);
    open[at]?.focus({ preventScroll: true });
    open[at]?.scrollIntoView({ block: "start" });
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
    m: () => press("true-size"),
    n: () => step(1),
    p: () => step(-1),
    ArrowRight: () => step(1),
    ArrowLeft: () => step(-1),
  };
  document.addEventListener("keydown", (event) => {
    // in a choice, the arrows choose
    const choosing = event.key.startsWith("Arrow") && event.target.closest?.("input");
    const written = "select, textarea, input:not([type=radio], [type=checkbox])";
    const typing = choosing || event.target.closest?.(written);
    if (event.ctrlKey || event.metaKey || event.altKey || typing || !find("#keys").checked) return;
    if (!keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
  });
})();
