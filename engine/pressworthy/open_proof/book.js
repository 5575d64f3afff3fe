// Tries values of a house profile, and writes one when a person gives a reason. What is shown is made
// by the server; this puts it beside the sentence that it is about.
(() => {
  "use strict";
  const { find, all, say, answered, get, sent, post, dropping } = Common;
  const house = () => `/house/${find("#book").dataset.house}`;

  // ---- trying ---------------------------------------------------------------------------------

  const stood = (field) =>
    field.localName === "select"
      ? ([...field.options].find((one) => one.defaultSelected)?.value ?? "")
      : field.defaultValue;
  const outcome = (node) => find(".outcome", node.closest(".sentence, .printer"));
  const turns = new WeakMap();
  // Enter in a field is a change and a sending, which is tried once
  const last = new WeakMap();
  const attempt = async (form) => {
    const field = find(".value", form);
    const at = outcome(form);
    if (last.get(field) === field.value) return;
    last.set(field, field.value);
    const turn = (turns.get(at) ?? 0) + 1;
    turns.set(at, turn);
    if (field.value === stood(field)) {
      last.delete(field);
      delete field.dataset.dirty;
      at.replaceChildren();
      return;
    }
    field.dataset.dirty = "";
    field.style.setProperty("--w", field.value.length);
    const waits = document.createElement("p");
    waits.className = "waits";
    waits.textContent = "Being tried on the pictures …";
    // what is there at once needs no words
    const late = setTimeout(() => at.replaceChildren(waits), 250);
    let html = "";
    let wrong;
    try {
      const fields = { path: form.dataset.path, value: field.value };
      html = await (await sent(`${house()}/try`, fields)).text();
    } catch (error) {
      wrong = document.createElement("p");
      wrong.className = "mistakes";
      wrong.textContent = error.message;
    }
    clearTimeout(late);
    if (turns.get(at) !== turn) return;
    if (wrong) at.replaceChildren(wrong);
    else at.innerHTML = html;
  };
  const letBe = (node) => {
    const at = node.closest(".outcome");
    const field = find(".value", at.parentElement);
    turns.set(at, (turns.get(at) ?? 0) + 1);
    at.replaceChildren();
    if (at.closest("#printer")) {
      post(`${house()}/let-be`, {}).catch((error) => say(error.message));
      find("#profile").focus();
    }
    if (!field) return;
    field.value = stood(field);
    last.delete(field);
    delete field.dataset.dirty;
    field.focus();
  };
  document.addEventListener("change", (event) => {
    const form = event.target.closest("form.try");
    if (form) attempt(form);
  });
  document.addEventListener("input", (event) => {
    if (event.target.matches("input.value")) {
      event.target.style.setProperty("--w", event.target.value.length);
      event.target.dataset.dirty = "";
    }
    const form = event.target.closest(".start-one");
    if (form) form.dataset.dirty = "";
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    const at = event.target.closest(".sentence") && outcome(event.target);
    if (at && (at.childElementCount || event.target.dataset.dirty !== undefined))
      letBe(at.firstElementChild ?? at);
  });

  // ---- writing --------------------------------------------------------------------------------

  const fieldsOf = (form) =>
    Object.fromEntries(
      all("input[name], select[name]", form).map((one) => [
        one.name,
        one.type !== "checkbox" || one.checked ? one.value : "",
      ]),
    );
  const refuse = (form, words) => {
    const at = find(".refused", form);
    at.textContent = words;
    at.hidden = false;
  };
  const sending = async (form, send) => {
    for (const button of all("button", form)) button.disabled = true;
    try {
      await send();
    } catch (error) {
      refuse(form, error.message);
    }
    for (const button of all("button", form)) button.disabled = false;
  };
  const write = (form) =>
    sending(form, async () => {
      const { path, token } = form.dataset;
      const at = form.closest(".outcome");
      const field = find(".value", at.parentElement);
      const seen = find("#book").dataset.seen;
      const value = form.dataset.value;
      const told = await post(token ? `${house()}/agree` : `${house()}/write`, {
        ...fieldsOf(form), path, value, token, seen,
      });
      say(told.said);
      at.replaceChildren();
      if (field) {
        delete field.dataset.dirty;
        last.delete(field);
      }
      await read();
      field?.focus();
    });
  const start = (form) =>
    sending(form, async () => {
      const fields = { name: "house", "stands on": "house", ...fieldsOf(form) };
      const told = await post(`${house()}/start`, { ...fields, kind: form.dataset.kind });
      location.assign(told.go);
    });
  document.addEventListener("submit", (event) => {
    event.preventDefault();
    const form = event.target;
    if (form.matches(".try")) attempt(form);
    if (form.matches(".build")) build(form);
    else if (form.matches(".write")) write(form);
    if (form.matches(".start-one")) start(form);
  });
  document.addEventListener("click", async (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.letBe !== undefined) letBe(button);
    if (button.dataset.takeBack) {
      button.disabled = true;
      try {
        say((await post("/take-back", { decision: button.dataset.takeBack })).said);
        await read();
      } catch (error) {
        say(error.message);
      }
      button.disabled = false;
    }
  });

  // ---- the printer's own data -----------------------------------------------------------------

  const build = (form) =>
    sending(form, async () => {
      await post(`${house()}/build`, { ...fieldsOf(form), token: form.dataset.token });
      await followed();
    });
  // what is being made of a chart, or would follow from it
  const followed = async () => {
    const at = find("#printer .outcome");
    const html = at && (await get(`${house()}/building`));
    if (html) Idiomorph.morph(at, html, { morphStyle: "innerHTML" });
  };
  const lay = async (file) => {
    const at = find("#printer .outcome");
    if (!at) return;
    const waits = document.createElement("p");
    waits.className = "waits";
    waits.textContent = `${file.name} is being read and tried on the pictures …`;
    at.replaceChildren(waits);
    at.scrollIntoView({ block: "center" });
    try {
      const path = `${house()}/profile?name=${encodeURIComponent(file.name)}`;
      at.innerHTML = await (await answered(await fetch(path, { method: "POST", body: file }))).text();
    } catch (error) {
      waits.textContent = error.message;
      waits.className = "mistakes";
    }
  };
  document.addEventListener("change", (event) => {
    if (event.target.id !== "profile") return;
    if (event.target.files[0]) lay(event.target.files[0]);
    event.target.value = "";
  });
  dropping((data) => {
    if (data.files[0]) lay(data.files[0]);
  });

  // ---- following ------------------------------------------------------------------------------

  let reading = 0;
  const read = async () => {
    const mine = ++reading;
    const html = await get(location.pathname);
    // answers may come in another order than they were asked for: the last asked counts
    if (mine !== reading) return;
    const next = find("#book", new DOMParser().parseFromString(html, "text/html"));
    Idiomorph.morph(find("#book"), next.outerHTML, {
      morphStyle: "outerHTML",
      callbacks: {
        // what a person tries or writes is theirs
        beforeNodeMorphed: (old) =>
          !(
            old.nodeType === 1 &&
            (old.dataset.dirty !== undefined ||
              (old.classList.contains("outcome") && old.childElementCount))
          ),
      },
    });
  };
  let soon;
  const news = new EventSource("/news");
  news.addEventListener("building", () => followed().catch((error) => say(error.message)));
  followed().catch((error) => say(error.message));
  news.addEventListener("foot", () => {
    clearTimeout(soon);
    soon = setTimeout(() => read().catch((error) => say(error.message)), 300);
  });
})();
