// What the scripts of the open pages share: asking the server, saying, what is in view and filled,
// what is dropped.
const Common = (() => {
  "use strict";
  const find = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];

  // a document for each piece, as a parser makes it, would lie about until the browser tidies up
  const made = (html) => {
    const template = document.createElement("template");
    template.innerHTML = html;
    return template.content.firstElementChild;
  };

  let quiet;
  const say = (words, seconds = 7) => {
    clearTimeout(quiet);
    find("#said").textContent = words;
    quiet = setTimeout(() => (find("#said").textContent = ""), 1000 * seconds);
  };

  // what the server refuses is thrown, with its words and whatever else it tells
  const answered = async (response) => {
    if (response.ok) return response;
    const told = await response.json().catch(() => ({ why: response.statusText }));
    throw Object.assign(new Error(told.why), told);
  };
  const get = async (path) => (await answered(await fetch(path))).text();
  // paper waits for no answer, so this does; "" where there is none
  const atOnce = (path) => {
    const asked = new XMLHttpRequest();
    asked.open("GET", path, false);
    asked.send();
    return asked.status === 200 ? asked.responseText : "";
  };
  const sent = async (path, fields) =>
    answered(
      await fetch(path, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify(fields),
      }),
    );
  const post = async (path, fields) => (await sent(path, fields)).json();

  // the server is told what is in view when that has settled, what is nearest the middle first;
  // name: of the data that names it, or several by blanks
  const viewed = (path, name, delay) => {
    const inView = new Set();
    let telling;
    const tellView = () => {
      clearTimeout(telling);
      telling = setTimeout(() => {
        const middle = innerHeight / 2;
        const far = (node) => Math.abs(node.getBoundingClientRect().top - middle);
        const seen = [...inView].filter((node) => node.isConnected);
        seen.sort((a, b) => far(a) - far(b));
        post(path, { ids: seen.flatMap((node) => node.dataset[name].split(" ")) }).catch(() => {});
      }, delay);
    };
    return { inView, tellView };
  };

  // What comes near is filled, a few at a time when there is time: scrolling goes first. Of what is
  // far, all but so many are emptied again, but nothing that somebody is at work on.
  // tell: as `viewed` takes it; from: where the server has it; fill: shows that, and gives what then
  // stands there; empty: is given the height, too, that it had; unprinted: what of them is empty and
  // belongs on paper, which is printed whole
  const MOST_AT_A_TIME = 3;
  const nearby = ({ tell, margin, most, isEmpty, from, fill, empty, unprinted }) => {
    const { inView, tellView } = viewed(...tell);
    const filled = new Set();
    const heights = new WeakMap();
    const isHeld = (node) =>
      node.contains(document.activeElement) ||
      node.dataset.large !== undefined ||
      find("[data-dirty], details[open]", node);
    const trim = () => {
      for (const node of filled) {
        if (filled.size <= most) return;
        if (node.isConnected && (inView.has(node) || isHeld(node))) continue;
        filled.delete(node);
        if (node.isConnected) empty(node, heights.get(node));
      }
    };
    const keep = (node) => filled.add(node);
    const refill = async (node) => {
      const was = isEmpty(node);
      const next = made(await get(from(node)).catch(() => ""));
      // what was emptied meanwhile is not wanted any more
      if (!next || !node.isConnected || (isEmpty(node) && !was)) return;
      keep(fill(node, next));
      trim();
    };
    addEventListener("beforeprint", () => {
      for (const node of unprinted()) {
        const next = made(atOnce(`${from(node)}?paper`));
        if (next) keep(fill(node, next));
      }
    });
    addEventListener("afterprint", () => trim());
    const wanted = new Set();
    let filling = 0;
    const pump = () => {
      for (const node of wanted) {
        if (filling >= MOST_AT_A_TIME) return;
        wanted.delete(node);
        if (!inView.has(node)) continue;
        filling += 1;
        refill(node).finally(() => {
          filling -= 1;
          pump();
        });
      }
    };
    const want = (node) => {
      wanted.add(node);
      // a busy computer may have no idle moment for long
      if (window.requestIdleCallback) requestIdleCallback(pump, { timeout: 300 });
      else setTimeout(pump);
    };
    const sight = new IntersectionObserver(
      (entries) => {
        for (const { target, isIntersecting, boundingClientRect } of entries) {
          if (!isIntersecting) {
            inView.delete(target);
            // noted here: asking for it later would have the whole sheet laid out anew
            heights.set(target, boundingClientRect.height);
            continue;
          }
          inView.add(target);
          if (isEmpty(target)) want(target);
        }
        tellView();
      },
      { rootMargin: `${margin}px 0px` },
    );
    const leave = (node) => {
      inView.delete(node);
      sight.unobserve(node);
    };
    // one that is watched already is told of anew
    const watch = (node) => {
      sight.unobserve(node);
      sight.observe(node);
    };
    return { inView, tellView, refill, keep, watch, leave };
  };

  // acts wait a moment, and one of a name that waits already stands for all that come
  const later = () => {
    const waiting = new Map();
    return (name, act, delay = 150) => {
      if (waiting.has(name)) return;
      waiting.set(
        name,
        setTimeout(async () => {
          waiting.delete(name);
          await act().catch(() => {});
        }, delay),
      );
    };
  };

  // take: is given what a person let go over the page
  const dropping = (take) => {
    const carries = (event) => event.dataTransfer?.types.includes("Files");
    const over = (is) => document.body.classList.toggle("dragged-over", is);
    document.addEventListener("dragover", (event) => {
      if (!carries(event)) return;
      event.preventDefault();
      over(true);
    });
    document.addEventListener("dragleave", (event) => {
      if (!event.relatedTarget) over(false);
    });
    document.addEventListener("drop", (event) => {
      if (!carries(event)) return;
      event.preventDefault();
      over(false);
      take(event.dataTransfer);
    });
  };

  return { find, all, made, say, answered, get, sent, post, nearby, later, dropping };
})();
