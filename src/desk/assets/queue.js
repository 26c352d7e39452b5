// The queue's pages: arrow keys on the sheet, and what is typed told while it is typed.

// Arrow keys go from picture to picture, as they stand on the page; t ticks the one that is looked at.
const sheet = document.querySelector("[data-sheet]");
sheet?.addEventListener("keydown", (event) => {
  const links = [...sheet.querySelectorAll("li > a:first-child")];
  const here = links.indexOf(event.target.closest("li")?.querySelector("a"));
  if (here < 0 || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.key === "t") {
    const tick = links[here].parentElement.querySelector("input");
    tick.checked = !tick.checked;
    event.preventDefault();
    return;
  }
  const to = { ArrowRight: here + 1, ArrowLeft: here - 1, Home: 0, End: links.length - 1 }[event.key] ?? beside(links, here, event.key);
  if (to === undefined || !links[to]) return;
  event.preventDefault();
  links[to].focus();
});

// The picture above or below: of the next row that way, the one nearest across.
function beside(links, here, key) {
  const way = { ArrowDown: 1, ArrowUp: -1 }[key];
  if (!way) return undefined;
  const places = links.map((link) => link.getBoundingClientRect());
  const from = places[here];
  const far = (place) => [Math.abs(place.top - from.top), Math.abs(place.left - from.left)];
  const there = places.map((place, index) => [far(place), index]).filter(([, index]) => (places[index].top - from.top) * way > 5);
  there.sort(([a], [b]) => a[0] - b[0] || a[1] - b[1]);
  return there[0]?.[1];
}

// What the server says of the fields as they stand. Of answers that overtake each other, the last one asked for counts.
for (const live of document.querySelectorAll("[data-form-live]")) {
  const into = live.querySelector("[data-live-into]");
  let asked = 0;
  let timer;
  const ask = async () => {
    const mine = ++asked;
    const fields = [...live.querySelectorAll("[data-live]")].filter((field) => field.type !== "radio" || field.checked);
    const query = new URLSearchParams(fields.map((field) => [field.name, field.value]));
    try {
      const said = await fetch(`${live.dataset.formLive}?${query}`);
      if (said.ok && mine === asked) into.innerHTML = await said.text();
    } catch {
      // The form itself says what is wrong when it is sent.
    }
  };
  if (!into) continue;
  live.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, 200);
  });
}
