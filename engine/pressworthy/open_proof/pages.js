// The pages on the sheet: says which are in view, and shows what was drawn of them.
(() => {
  "use strict";
  const { find, all, made, say, sent, post, nearby, later } = Common;
  const root = find("#pages");
  const leaves = root.getElementsByClassName("leaf");

  // ---- what is far is bare: its words and links, and nothing that is drawn ---------------------

  const isBare = (spread) => spread.classList.contains("bare");
  // a filled spread -> what it is when it is far
  const bare = new WeakMap();
  const changed = new Set();
  const callbacks = {
    beforeNodeMorphed: (old, next) => {
      if (old.nodeType !== 1 || next.nodeType !== 1) return true;
      // what a person writes is theirs
      if (next.classList.contains("same") || old.dataset.dirty !== undefined) return false;
      if (!next.classList.contains("bare") || old.id !== next.id || isBare(old) || emptying)
        return true;
      // it stays filled, and is filled anew
      bare.set(old, next.cloneNode(true));
      changed.add(old);
      return false;
    },
    // what they opened stays open
    beforeAttributeUpdated: (name, at) =>
      !["data-large", "aria-expanded"].includes(name) &&
      (name !== "open" || at.localName !== "details"),
  };
  let emptying = false;
  const morph = (node, next, morphStyle) => Idiomorph.morph(node, next, { morphStyle, callbacks });
  const laidAside = (spread) => {
    if (isBare(spread)) bare.set(spread, spread.cloneNode(true));
  };
  const fill = (spread, next) => {
    laidAside(spread);
    morph(spread, next, "outerHTML");
    return spread;
  };
  const empty = (spread) => {
    emptying = true;
    morph(spread, bare.get(spread), "outerHTML");
    emptying = false;
  };
  const { tellView, refill, watch } = nearby({
    tell: ["/pages/in-view", "leaves", 80], from: ({ dataset }) => `/pages/${dataset.id}`,
    margin: 600, most: 12, isEmpty: isBare, fill, empty,
    unprinted: () => all(".spread.bare", root),
  });
  const watched = new WeakSet();
  const watchAll = () => {
    for (const spread of all(".spread", root)) {
      if (watched.has(spread)) continue;
      watched.add(spread);
      watch(spread);
    }
  };

  // ---- what the server tells ------------------------------------------------------------------

  const soon = later();
  const refresh = async () => {
    const known = all(".spread", root).slice(0, MOST_KNOWN);
    const stamps = Object.fromEntries(known.map(({ dataset }) => [dataset.id, dataset.stamp]));
    const next = made(await (await sent("/pages/changed", { stamps })).text());
    if (next) morph(root, next, "innerHTML");
    else root.replaceChildren();
    watchAll();
    // where a page stood there may be another now
    tellView();
    for (const spread of changed) refill(spread);
    changed.clear();
  };
  // more of them would be too long a question; the others are sent anew
  const MOST_KNOWN = 4000;
  document.addEventListener("told", ({ detail: { what, more } }) => {
    if (what === "leaf") {
      const spread = find(`#leaf-${more.id}`)?.closest(".spread");
      if (spread && !isBare(spread)) soon(spread.id, () => refill(spread), 20);
    }
    if (what === "pages" || what === "hello") soon("pages", refresh, 30);
    // verdicts come by the dozen; the marks follow when they have
    if (what === "glance" || what === "picture" || what === "foot")
      soon("pages", refresh, 500 + 4 * leaves.length);
  });

  // ---- what a person does ---------------------------------------------------------------------

  const lay = async (spread, closer) => {
    // its margin is there when it is filled
    if (isBare(spread)) await refill(spread);
    const large = spread.toggleAttribute("data-large", closer);
    find("[data-closer]", spread).setAttribute("aria-expanded", large);
    spread.scrollIntoView({ block: "nearest" });
  };
  document.addEventListener("click", async (event) => {
    const closer = event.target.closest("[data-closer]");
    if (closer) lay(closer.closest(".spread"));
    const looking = event.target.closest("[data-look]");
    if (looking) {
      await lay(looking.closest(".spread"), true);
      find(`#of-page-${looking.dataset.look}`)?.focus();
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
