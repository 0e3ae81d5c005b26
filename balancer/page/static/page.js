// Only what a page without scripts can do without.
"use strict";

// Numbers typed and not yet sent outlive a reload, until the log has gone on.
for (const form of document.querySelectorAll("form[data-draft]")) {
  const fields = form.querySelectorAll("input[inputmode]");
  const name = (field) => `${location.pathname} ${form.dataset.draft} ${field.name}`;
  for (const field of fields) {
    const kept = sessionStorage.getItem(name(field));
    if (kept !== null && !field.defaultValue) field.value = kept;
    field.addEventListener("input", () => sessionStorage.setItem(name(field), field.value));
  }
}

// A second press on a form that is under way is none.
addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "1";
});
addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});

// Says that somebody else has written into the log; what to do about it is for whoever reads.
const seen = document.body.dataset.seen;
if (seen) {
  const look = async () => {
    if (document.hidden) return;
    try {
      const answer = await fetch(seen);
      if (!answer.ok || !(await answer.json()).behind) return;
    } catch {
      return;
    }
    clearInterval(looking);
    const box = document.createElement("div");
    box.className = "said";
    box.setAttribute("role", "status");
    const text = document.createElement("p");
    text.textContent = "The log has gone on elsewhere.";
    const link = document.createElement("a");
    link.className = "button";
    link.href = location.pathname;
    link.textContent = "Show it";
    box.append(text, link);
    document.querySelector("main").prepend(box);
  };
  const looking = setInterval(look, 5000);
}
