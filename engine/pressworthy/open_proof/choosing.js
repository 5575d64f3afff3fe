// Tells the program which issue was chosen, and goes to its sheet, which is served from here then.
(() => {
  "use strict";
  const said = document.querySelector("#said");
  const choose = async (fields) => {
    const response = await fetch("/choose", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(fields),
    });
    const told = await response.json();
    if (!response.ok) {
      said.textContent = told.why;
      return;
    }
    said.textContent = "The issue is being opened …";
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
