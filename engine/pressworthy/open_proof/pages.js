// The pages on the sheet: says which are in view, and shows what was drawn of them.
(() => {
  "use strict";
  const find = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const root = find("#pages");
  const said = find("#said");
  const asked = async (path, fields) => {
    const how = fields && {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(fields),
    };
    const response = await fetch(path, how);
    if (response.ok) return response;
    throw new Error((await response.json().catch(() => ({}))).why ?? response.statusText);
  };
  // what a person opened stays open, and what they write is theirs
  const callbacks = {
    beforeNodeMorphed: (old) => old.nodeType !== 1 || old.dataset.dirty === undefined,
    beforeAttributeUpdated: (name, at) =>
      !["data-large", "aria-expanded"].includes(name) &&
      (name !== "open" || at.localName !== "details"),
  };

  // ---- which are in view ----------------------------------------------------------------------

  const inView = new Set();
  let telling;
  const tellView = () => {
    clearTimeout(telling);
    telling = setTimeout(() => {
      const middle = innerHeight / 2;
      const far = (leaf) => Math.abs(leaf.getBoundingClientRect().top - middle);
      const seen = [...inView].filter((leaf) => leaf.isConnected);
      seen.sort((a, b) => far(a) - far(b));
      asked("/pages/in-view", { ids: seen.map((leaf) => leaf.dataset.leaf) }).catch(() => {});
    }, 80);
  };
  const sight = new IntersectionObserver(
    (entries) => {
      for (const { target, isIntersecting } of entries)
        inView[isIntersecting ? "add" : "delete"](target);
      tellView();
    },
    { rootMargin: "300px 0px" },
  );
  const watched = new WeakSet();
  const watch = () => {
    for (const leaf of all(".leaf", root)) {
      if (watched.has(leaf)) continue;
      watched.add(leaf);
      sight.observe(leaf);
    }
  };

  // ---- what the server tells ------------------------------------------------------------------

  const waiting = new Map();
  const soon = (name, act, delay) => {
    if (waiting.has(name)) return;
    waiting.set(
      name,
      setTimeout(async () => {
        waiting.delete(name);
        await act().catch(() => {});
      }, delay),
    );
  };
  const refresh = async () => {
    const html = await (await asked("/pages")).text();
    Idiomorph.morph(root, html, { morphStyle: "innerHTML", ignoreActiveValue: true, callbacks });
    watch();
    // where a page stood there may be another now
    tellView();
  };
  const redraw = async (id) => {
    const leaf = find(`#leaf-${id}`);
    if (!leaf) return;
    const html = await (await asked(`/pages/${id}`)).text();
    Idiomorph.morph(leaf, html, { morphStyle: "outerHTML", callbacks });
    watch();
  };
  document.addEventListener("told", ({ detail: { what, more } }) => {
    if (what === "leaf") soon(more.id, () => redraw(more.id), 20);
    if (what === "pages" || what === "hello") soon("pages", refresh, 30);
    // verdicts come by the dozen; the marks follow when they have
    if (what === "glance" || what === "picture" || what === "foot")
      soon("pages", refresh, 500 + 4 * all(".leaf", root).length);
  });

  // ---- what a person does ---------------------------------------------------------------------

  const lay = (spread, closer) => {
    const large = spread.toggleAttribute("data-large", closer);
    find("[data-closer]", spread).setAttribute("aria-expanded", large);
    spread.scrollIntoView({ block: "nearest" });
  };
  document.addEventListener("click", async (event) => {
    const closer = event.target.closest("[data-closer]");
    if (closer) lay(closer.closest(".spread"));
    const looking = event.target.closest("[data-look]");
    if (looking) {
      lay(looking.closest(".spread"), true);
      find(`#of-page-${looking.dataset.look}`).focus();
    }
    const placing = event.target.closest("[data-place-all]");
    if (placing) {
      placing.disabled = true;
      said.textContent = "The pictures are being placed …";
      try {
        said.textContent = (await (await asked("/pages/place", {})).json()).said;
      } catch (error) {
        said.textContent = error.message;
      }
      placing.disabled = false;
    }
  });
})();
