// What changes by itself on a page is asked for again and again: parts with an id of their own.

const EVERY_MS = 2000;

for (const place of document.querySelectorAll("[data-follow]")) {
  setInterval(async () => {
    if (document.hidden) return;
    const response = await fetch(place.dataset.follow).catch(() => null);
    if (!response?.ok) return;
    const parsed = document.createElement("template");
    parsed.innerHTML = await response.text();
    for (const part of parsed.content.querySelectorAll("[id]")) {
      const old = document.getElementById(part.id);
      if (old && old.innerHTML !== part.innerHTML) old.innerHTML = part.innerHTML;
    }
  }, EVERY_MS);
}
