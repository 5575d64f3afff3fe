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
