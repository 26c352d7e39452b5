// Shows what a search finds as one types. Without it, the form asks for a page.

const form = document.querySelector("form[data-found]");
if (form) {
  const box = form.querySelector("[type=search]");
  const found = document.getElementById("found");
  const told = document.getElementById("told");
  let wait;
  let asking;
  let shown = box.value;
  const ask = async (quick) => {
    // What was asked before is no longer of interest.
    asking?.abort();
    asking = new AbortController();
    const query = `?q=${encodeURIComponent(shown)}`;
    try {
      const answer = await fetch(`${form.dataset.found}${query}${quick ? "&quick=true" : ""}`, { signal: asking.signal });
      if (!answer.ok) throw new Error(answer.statusText);
      found.innerHTML = await answer.text();
      if (!quick) return;
      told.textContent = found.firstElementChild?.dataset.told ?? "";
      history.replaceState(null, "", form.getAttribute("action") + query);
      // Counts are for whoever stops to look.
      if (found.querySelector("table")) wait = setTimeout(ask, 400, false);
    } catch (error) {
      if (error.name !== "AbortError") told.textContent = "The desk does not answer; press Search to try again.";
    }
  };
  box.addEventListener("input", () => {
    clearTimeout(wait);
    wait = setTimeout(() => {
      if (box.value === shown) return;
      shown = box.value;
      ask(true);
    }, 80);
  });
}
