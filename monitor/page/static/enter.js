"use strict";
// Shows the password while the box beside it is ticked.
for (const box of document.querySelectorAll("[data-shows]")) {
  const field = box.form.elements[box.dataset.shows];
  const show = () => { field.type = box.checked ? "text" : "password"; };
  box.addEventListener("change", show);
  // A browser might remember a field that shows its text like any other.
  box.form.addEventListener("submit", () => { box.checked = false; show(); });
}
