// An answer that follows what is typed. Without this, the form leads to a page with it.

const PAUSE_MS = 150;

for (const form of document.querySelectorAll("form[data-live]")) {
  const answer = document.getElementById(form.dataset.live), input = form.querySelector("input[type=search]");
  let timer = 0, asked = 0;

  async function ask(part) {
    const query = new URLSearchParams(new FormData(form)), number = ++asked;
    try {
      const response = await fetch(`${form.getAttribute("action")}?${query}&part=${part}`);
      const text = await response.text();
      // An answer that was overtaken by a later question is none.
      if (number !== asked) return;
      if (response.ok) answer.innerHTML = text;
      else answer.textContent = response.status === 403 ? text : `the desk answered with ${response.status}`;
    } catch {
      if (number === asked) answer.textContent = "no answer; is the desk still open, and the network there?";
    }
  }

  input.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, PAUSE_MS, 1); });
  form.addEventListener("submit", (event) => { event.preventDefault(); clearTimeout(timer); ask(2); });
}
