// What every page of the desk does beyond plain HTML. Without it, every form and link works all the same.
import "./ask.js";
import "./follow.js";
import "./found.js";
import "./intake.js";
import "./queue.js";
import "./upload.js";


// A key of a person's own choice on a page: an element with data-key is pressed by it, unless something is being typed.
// A field with data-keys takes keys for what they are once something stands in it.
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
  const typing = event.target.closest("input:not([type=checkbox]):not([type=radio]), textarea, select");
  if (typing && (typing.dataset.keys === undefined || typing.value !== "")) return;
  const pressed = (element) => element.dataset.key === event.key;
  // In a list, the row that the keyboard is at goes before the first one.
  const near = event.target.closest("tr, li")?.querySelectorAll("[data-key]") ?? [];
  const wanted = [...near, ...document.querySelectorAll("[data-key]")].find(pressed);
  if (!wanted || wanted.disabled) return;
  event.preventDefault();
  if (wanted.matches("input, textarea, select")) wanted.focus();
  else wanted.click();
});

// A form is sent once, however often its button is pressed.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented) return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
});
// A page that comes back from the browser's store has forms that may be sent again.
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent));
