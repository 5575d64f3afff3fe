// The pages on the sheet: says which are in view, and shows what was drawn of them.
(() => {
  "use strict";
  const { find, all, say, get, post, viewed, later } = Common;
  const root = find("#pages");
  // what a person opened stays open, and what they write is theirs
  const callbacks = {
    beforeNodeMorphed: (old) => old.nodeType !== 1 || old.dataset.dirty === undefined,
    beforeAttributeUpdated: (name, at) =>
      !["data-large", "aria-expanded"].includes(name) &&
      (name !== "open" || at.localName !== "details"),
  };

  // ---- which are in view ----------------------------------------------------------------------

  const { inView, tellView } = viewed("/pages/in-view", "leaf", 80);
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

  const soon = later();
  const refresh = async () => {
    const html = await get("/pages");
    Idiomorph.morph(root, html, { morphStyle: "innerHTML", callbacks });
    watch();
    // where a page stood there may be another now
    tellView();
  };
  const redraw = async (id) => {
    const leaf = find(`#leaf-${id}`);
    if (!leaf) return;
    const html = await get(`/pages/${id}`);
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
      say("The pictures are being placed …", 600);
      try {
        say((await post("/pages/place", {})).said);
      } catch (error) {
        say(error.message);
      }
      placing.disabled = false;
    }
  });
})();
