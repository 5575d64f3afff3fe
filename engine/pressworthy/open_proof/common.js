// What the scripts of the open pages share: asking the server, saying, what is in view, what is
// dropped.
const Common = (() => {
  "use strict";
  const find = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];

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
  const sent = async (path, fields) =>
    answered(
      await fetch(path, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify(fields),
      }),
    );
  const post = async (path, fields) => (await sent(path, fields)).json();

  // the server is told what is in view when that has settled, what is nearest the middle first
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
        post(path, { ids: seen.map((node) => node.dataset[name]) }).catch(() => {});
      }, delay);
    };
    return { inView, tellView };
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

  return { find, all, say, answered, get, sent, post, viewed, later, dropping };
})();
