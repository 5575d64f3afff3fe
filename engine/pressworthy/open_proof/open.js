// Sends decisions, and shows what came of them. What is shown is made by the server; this morphs it
// in, so that focus, open places and half-written words stay.
(() => {
  "use strict";
  const { find, all, made, say, answered, get, post, nearby, later, dropping } = Common;
  const sheet = find("#sheet");
  const articles = document.getElementsByClassName("picture");
  const stamp = () => find("#top").dataset.stamp;

  // ---- showing --------------------------------------------------------------------------------

  const parsed = (html) => new DOMParser().parseFromString(html, "text/html");
  const keeps = (node) =>
    node.nodeType === 1 &&
    (node.classList.contains("fetched") ||
      node.classList.contains("cropping") ||
      node.dataset.dirty !== undefined);
  const show = (node, next) => {
    const focused = document.activeElement;
    Idiomorph.morph(node, next, {
      morphStyle: "outerHTML",
      // of anything but a field, it would leave out all that is within
      ignoreActiveValue: Boolean(focused?.matches("input, select, textarea")),
      callbacks: {
        // what a person opened, wrote or dragged is theirs
        beforeAttributeUpdated: (name, at) =>
          !(name === "open" && at.localName === "details") &&
          !((name === "checked" || name === "selected") && at.closest("#slip")),
        beforeNodeMorphed: (old, next) =>
          !(keeps(old) && next.nodeType === 1 && !differs(old, next)),
      },
    });
    // what changes its place loses the focus on the way
    if (document.activeElement !== document.body || !focused) return;
    const again = focused.isConnected ? focused : focused.id && document.getElementById(focused.id);
    if (again) again.focus({ preventScroll: true });
  };
  // a crop or a comparison is drawn anew where what it stands on has changed
  const differs = (old, next) =>
    old.classList.contains("cropping") &&
    (old.dataset.shown !== next.dataset.shown || old.dataset.mm !== next.dataset.mm);

  // ---- pictures come as they scroll into view -------------------------------------------------

  const isStub = (article) => article.classList.contains("stub");
  const fill = (article, next) => {
    let now = article;
    if (isStub(article) && article !== document.activeElement) {
      // nothing in it to keep
      leave(article);
      now = next;
      article.replaceWith(now);
    } else show(article, next);
    watch(now);
    dress(now);
    filtered();
    return now;
  };
  const empty = (article, height) => {
    article.style.minHeight = `${height}px`;
    find(".galley", article)?.remove();
    article.classList.add("stub");
  };
  const { inView, refill, keep, watch, leave } = nearby({
    tell: ["/in-view", "id", 120], from: ({ dataset }) => `/picture/${dataset.id}`,
    margin: 700, most: 20, isEmpty: isStub, fill, empty,
    // but for what the slip leaves out
    unprinted: () => all("article.stub:not(.away)"),
  });

  // what comes anew is filtered as the slip says
  const filtered = () => {
    const chosen = all("#slip select").some((list) => list.value);
    if (!chosen && !find('#slip [name="kind"]:not(:checked)') && !find(".picture.away")) return;
    clearTimeout(filtering);
    filtering = setTimeout(() => find("#slip").dispatchEvent(new Event("change")), 60);
  };
  let filtering;

  // ---- what the server tells ------------------------------------------------------------------

  const soon = later();
  // what stands far above and below waits while a person scrolls, some seconds at most
  let scrolled = -Infinity;
  document.addEventListener("scroll", () => (scrolled = performance.now()), { passive: true });
  const atRest = async () => {
    const end = performance.now() + 8000;
    while (performance.now() < Math.min(end, scrolled + 300))
      await new Promise((done) => setTimeout(done, 300));
  };
  const place = (told) => {
    const article = find(`article[data-id="${told.id}"]`);
    if (told.gone) {
      article?.remove();
      return;
    }
    if (!told.stub) return;
    if (article) {
      const next = made(told.stub);
      for (const name of ["kind", "page", "house"]) article.dataset[name] = next.dataset[name];
      if (inView.has(article) || !isStub(article)) soon(told.id, () => refill(article), 30);
      return;
    }
    const next = made(told.stub);
    const house = find(`#house-${next.dataset.house}`);
    if (!house) return soon("sheet", wholeSheet);
    const before = told.after && find(`article[data-id="${told.after}"]`);
    if (before) before.after(next);
    else find("h2", house).after(next);
    watch(next);
    return undefined;
  };
  let turn = Number(document.body.dataset.turn);
  const wholeSheet = async () => {
    const next = parsed(await get("/"));
    turn = Number(next.body.dataset.turn);
    show(find(".symbols"), find(".symbols", next));
    // pictures that are there stay; only their order and company change
    for (const stub of all("article.picture", next)) {
      const here = find(`article[data-id="${stub.dataset.id}"]`);
      if (here && !isStub(here) && here.id === stub.id)
        stub.replaceWith(here.cloneNode(true));
    }
    show(find("#sheet"), find("#sheet", next));
    begin();
  };
  const listen = () => {
    const news = new EventSource("/news");
    news.addEventListener("hello", (event) => {
      // between the page and this, or in a break, something may have been missed
      if (JSON.parse(event.data).turn !== turn) soon("sheet", wholeSheet);
      if (document.body.classList.contains("alone")) say("The program answers again.", 4);
      document.body.classList.remove("alone");
    });
    news.addEventListener("turn", (event) => (turn = JSON.parse(event.data).turn));
    news.addEventListener("top", (event) => show(find("#top"), made(JSON.parse(event.data).html)));
    news.addEventListener("picture", (event) => place(JSON.parse(event.data)));
    news.addEventListener("sheet", () => soon("sheet", wholeSheet));
    news.addEventListener("glance", () =>
      soon("glances", async () => {
        await atRest();
        const next = made(`<div>${await get("/part/glances")}</div>`);
        show(find("#glances"), find("#glances", next));
        show(find("#slip"), find("#slip", next));
        filtered();
        record();
      }, 600 + 2 * articles.length),
    );
    news.addEventListener("foot", () => record());
    // for the scripts of other parts of the sheet
    for (const what of ["hello", "pages", "leaf", "picture", "glance", "foot"])
      news.addEventListener(what, (event) => {
        const detail = { what, more: JSON.parse(event.data) };
        document.dispatchEvent(new CustomEvent("told", { detail }));
      });
    news.onerror = () => {
      if (news.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
      document.body.classList.add("alone");
      const closed = "The program does not answer. If it was closed, open it again; nothing decided is lost.";
      say(closed, 3600);
    };
  };
  const record = () =>
    soon("record", async () => {
      await atRest();
      const html = await get("/part/record");
      show(find("#record"), made(`<div id="record">${html}</div>`));
    }, 400);

  // ---- deciding -------------------------------------------------------------------------------

  const refuse = (near, words) => {
    if (!near?.isConnected) return say(words);
    const told = find(":scope > .refused", near) ?? near.appendChild(document.createElement("p"));
    told.className = "refused";
    told.setAttribute("role", "alert");
    told.textContent = words;
    return undefined;
  };
  const decide = async (form, kind, picture, fields, alike) => {
    const buttons = form ? all("button", form) : [];
    for (const button of buttons) button.disabled = true;
    if (form) find(":scope > .refused", form)?.remove();
    try {
      const by = fields.by ?? "";
      const told = await post("/decide", { kind, picture, fields, alike, by, seen: stamp() });
      for (const input of form ? all("[data-dirty]", form) : []) delete input.dataset.dirty;
      const details = form?.closest("details");
      if (details && kind !== "title") details.open = false;
      say(told.said);
    } catch (error) {
      refuse(form, error.message);
    }
    for (const button of buttons) button.disabled = false;
  };
  const fieldsOf = (form) => {
    const fields = {};
    let alike = "";
    for (const input of all("input[name], select[name]", form)) {
      if (input.name === "alike") alike = input.checked ? input.value : "";
      else if (input.type === "checkbox") {
        fields[input.name] ??= "";
        if (input.checked) fields[input.name] = `${fields[input.name]} ${input.value}`.trim();
      } else if (input.type === "radio") {
        if (input.checked) fields[input.name] = input.value;
      } else fields[input.name] = input.value;
    }
    return { fields, alike };
  };
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form.decide");
    if (!form) return;
    event.preventDefault();
    const { fields, alike } = fieldsOf(form);
    decide(form, form.dataset.kind, form.dataset.picture ?? "", fields, alike);
  });
  document.addEventListener("input", (event) => {
    if (event.target.closest("form.decide")) event.target.dataset.dirty = "";
  });
  document.addEventListener("change", (event) => {
    const form = event.target.closest("form.decide[data-instant]");
    if (form) form.requestSubmit();
  });

  const acts = {
    stop: () => post("/do/stop", {}),
    "go-on": () => post("/do/go-on", {}),
    prepare: (button) => post("/do/prepare", { picture: button.dataset.picture ?? "" }),
    save: (button) => {
      say("The marked proof is being made …");
      return post("/do/save", { printed: button.dataset.printed !== undefined });
    },
    zip: () => post("/do/zip", {}),
    contacts: () => post("/do/contacts", {}),
    "take-back": (button) => post("/take-back", { decision: button.dataset.decision }),
  };
  document.addEventListener("click", async (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.do) {
      button.disabled = true;
      try {
        say((await acts[button.dataset.do](button)).said);
      } catch (error) {
        say(error.message);
      }
      button.disabled = false;
    }
    if (button.dataset.open) opened(button);
    if (button.dataset.copy !== undefined) {
      const words = find("textarea", button.parentElement);
      words.select();
      await navigator.clipboard?.writeText(words.value).catch(() => document.execCommand("copy"));
      say("Copied.");
    }
    if (button.dataset.set) setCrop(button);
  });
  const opened = (button) => {
    const letter = all(".letters details").find((one) =>
      find("summary", one) && one.dataset.numbers?.split(" ").includes(button.dataset.number),
    );
    const details = button.dataset.open === "letter" ? letter : find(`#${button.dataset.open}`);
    if (!details) return;
    for (let at = details; at; at = at.parentElement.closest("details")) at.open = true;
    find("summary", details).focus();
    details.scrollIntoView({ block: "center" });
  };

  // ---- what is fetched when it is opened ------------------------------------------------------

  document.addEventListener(
    "toggle",
    async (event) => {
      const details = event.target;
      if (details.localName !== "details" || !details.open) return;
      dress(details);
      const at = details.dataset.fetch && find(":scope > .fetched", details);
      if (!at) return;
      try {
        at.innerHTML = await get(details.dataset.fetch);
      } catch (error) {
        at.textContent = error.message;
      }
      dress(details);
    },
    true,
  );

  // ---- cropping -------------------------------------------------------------------------------

  const numbers = (text) => text.split(" ").map(Number);
  const dress = (within) => {
    for (const one of all(".cropping", within)) if (!one.dataset.dressed) crop(one);
    for (const one of all(".split", within)) if (!one.dataset.dressed) split(one);
  };
  const crop = (one) => {
    one.dataset.dressed = "1";
    const [across, down] = numbers(one.dataset.px);
    const mm = numbers(one.dataset.mm);
    const bleed = numbers(one.dataset.bleed);
    const wanted = Number(one.dataset.ppi);
    const box = find(".window", one);
    const shape = mm[0] / mm[1];
    let [left, top, width] = numbers(one.dataset.shown);
    // the largest frame of the box's shape, as a share of the width
    const largest = Math.min(1, (down * shape) / across);
    const height = () => (width * across) / shape / down;
    const draw = () => {
      width = Math.min(Math.max(width, 0.02), largest);
      left = Math.min(Math.max(left, 0), 1 - width);
      top = Math.min(Math.max(top, 0), 1 - height());
      const share = (part) => `${(part * 100).toFixed(3)}%`;
      Object.assign(box.style, {
        left: share(left), top: share(top), width: share(width), height: share(height()),
      });
      find(".cut-line", box).style.inset = [
        bleed[0] / mm[1], bleed[1] / mm[0], bleed[2] / mm[1], bleed[3] / mm[0],
      ].map(share).join(" ");
      const ppi = (width * across) / (mm[0] / 25.4);
      const output = find(".live-ppi", one);
      output.textContent = `${Math.round(ppi)} ppi; the house wants ${Math.round(wanted)}`;
      output.classList.toggle("short", ppi < wanted - 1);
    };
    one.frame = () => ({ left, top, width, height: height() });
    box.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      box.focus({ preventScroll: true });
      box.setPointerCapture(event.pointerId);
      const from = { x: event.clientX, y: event.clientY, left, top, width };
      const room = box.parentElement.getBoundingClientRect();
      const sizing = event.target.classList.contains("corner");
      const move = (at) => {
        const dx = (at.clientX - from.x) / room.width;
        const dy = (at.clientY - from.y) / room.height;
        if (sizing) width = Math.min(from.width + dx, 1 - left, ((1 - top) * down * shape) / across);
        else [left, top] = [from.left + dx, from.top + dy];
        draw();
      };
      box.addEventListener("pointermove", move);
      box.addEventListener(
        "lostpointercapture",
        () => box.removeEventListener("pointermove", move),
        { once: true },
      );
    });
    box.addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 0.05 : 0.01;
      const moves = {
        ArrowLeft: () => (left -= step), ArrowRight: () => (left += step),
        ArrowUp: () => (top -= step), ArrowDown: () => (top += step),
        "+": () => (width += step), "=": () => (width += step), "-": () => (width -= step),
      };
      if (!moves[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      event.stopPropagation();
      moves[event.key]();
      draw();
    });
    draw();
  };
  const setCrop = (button) => {
    const one = button.closest(".cropping");
    const { left, top, width, height } = one.frame();
    const text = (...parts) => parts.map((part) => part.toFixed(4)).join(" ");
    const kinds = {
      crop: ["crop", text(left, top, width, height)],
      focus: ["focus", text(left + width / 2, top + height / 2)],
      none: ["crop", ""],
    };
    const [kind, value] = kinds[button.dataset.set];
    one.closest("details").open = false;
    decide(null, kind, one.dataset.picture, { [kind]: value }, "");
  };

  // ---- before and after -----------------------------------------------------------------------

  const ruled = () => localStorage.getItem("px-mm");
  const rule = (px) => document.documentElement.style.setProperty("--px-mm", `${px}px`);
  if (ruled()) rule(ruled());
  const split = (one) => {
    one.dataset.dressed = "1";
    const stage = find(".stage", one);
    const line = find(".splitting input", one);
    const at = (share) => {
      line.value = share;
      stage.style.setProperty("--split", `${share}%`);
    };
    line.addEventListener("input", () => at(line.value));
    stage.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      stage.setPointerCapture(event.pointerId);
      const to = (here) => {
        const room = stage.getBoundingClientRect();
        at(Math.min(100, Math.max(0, ((here.clientX - room.left) / room.width) * 100)));
      };
      to(event);
      stage.addEventListener("pointermove", to);
      stage.addEventListener(
        "lostpointercapture",
        () => stage.removeEventListener("pointermove", to),
        { once: true },
      );
    });
    const views = { before: find(".before", stage).src, after: find(".after", stage).src };
    for (const radio of all('[name^="large-"]', one))
      radio.addEventListener("change", async () => {
        let shown = views;
        if (radio.value === "pixels") {
          const id = one.closest("article").dataset.id;
          try {
            shown = JSON.parse(await get(`/pixels/${id}`));
            // a pixel of the copy is one of the screen's own
            stage.style.setProperty("--own", shown.width / devicePixelRatio);
          } catch (error) {
            say(error.message);
          }
          if (!radio.checked) return;
        }
        one.className = `split ${radio.value}`;
        find(".before", stage).src = shown.before;
        find(".after", stage).src = shown.after;
        // the line stays where it can be seen
        const pane = stage.parentElement;
        const at = (stage.offsetWidth * line.value) / 100;
        pane.scrollTo({ left: at - pane.clientWidth / 2, behavior: "instant" });
      });
    const ruler = find(".set-ruler", one);
    if (ruled()) ruler.value = ruled() * 100;
    ruler.addEventListener("input", () => {
      localStorage.setItem("px-mm", ruler.value / 100);
      rule(ruler.value / 100);
    });
  };

  // ---- dropping -------------------------------------------------------------------------------

  const gathered = async (entry, path = "") => {
    if (entry.isFile)
      return [[`${path}${entry.name}`, await new Promise((done, fail) => entry.file(done, fail))]];
    const reader = entry.createReader();
    const files = [];
    for (;;) {
      const some = await new Promise((done, fail) => reader.readEntries(done, fail));
      if (!some.length) return files;
      for (const one of some) files.push(...(await gathered(one, `${path}${entry.name}/`)));
    }
  };
  const put = async (name, file, how = "") => {
    const response = await fetch(`/drop?name=${encodeURIComponent(name)}${how}`, {
      method: "POST", body: file,
    });
    return (await answered(response)).json();
  };
  const take = async (files) => {
    const masters = [];
    const shown = files.filter(([name]) => !name.split("/").some((part) => part.startsWith(".")));
    // the pages last: their sizes are for the pictures
    const isPages = ([name]) => name.toLowerCase().endsWith(".pdf");
    shown.sort((a, b) => isPages(a) - isPages(b));
    const takeIn = async () => {
      if (masters.length) say((await post("/taken-in", { masters: masters.splice(0) })).said);
    };
    const took = (told) => (told.master ? masters.push(told.master) : say(told.said));
    let done = 0;
    for (const [name, file] of shown) {
      if (isPages([name])) await takeIn().catch((error) => say(error.message));
      say(`${++done} of ${shown.length}: ${name}`);
      try {
        took(await put(name, file));
      } catch (error) {
        if (error.free) {
          const beside = confirm(
            `${error.message}. Put this one beside it as “${error.free}”? Otherwise it is left out.`,
          );
          if (!beside) continue;
          try {
            took(await put(name, file, "&beside"));
          } catch (again) {
            say(again.message);
          }
        } else say(error.message);
      }
    }
    await takeIn().catch((error) => say(error.message));
  };
  dropping(async (data) => {
    const entries = [...data.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
    const plain = [...data.files].map((file) => [file.name, file]);
    const files = entries.length
      ? (await Promise.all(entries.map((entry) => gathered(entry)))).flat()
      : plain;
    take(files);
  });
  document.addEventListener("change", (event) => {
    if (event.target.id !== "files" && event.target.id !== "folder") return;
    take([...event.target.files].map((file) => [file.webkitRelativePath || file.name, file]));
    event.target.value = "";
  });

  const begin = () => {
    for (const article of all("article.picture")) {
      watch(article);
      dress(article);
      if (!isStub(article)) keep(article);
    }
  };
  begin();
  listen();
})();
