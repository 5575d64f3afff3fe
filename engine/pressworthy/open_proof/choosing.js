// Tells the program which issue was chosen, and goes to its sheet, which is served from here then.
(() => {
  "use strict";
  const { say, post } = Common;
  const choose = async (fields) => {
    try {
      await post("/choose", fields);
    } catch (error) {
      say(error.message);
      return;
    }
    say("The issue is being opened …", 600);
    // this page's server goes first; what has a top is the issue's
    for (;;) {
      const there = await fetch("/part/top").catch(() => null);
      if (there?.ok) break;
      await new Promise((done) => setTimeout(done, 250));
    }
    location.replace("/");
  };
  document.addEventListener("click", (event) => {
    const number = event.target.closest("button")?.dataset.number;
    if (number !== undefined) choose({ number: Number(number) });
  });
  document.addEventListener("submit", (event) => {
    event.preventDefault();
    choose({ name: event.target.elements.name.value });
  });
})();
