// The running intake: word of each change comes as an event, the picture and the words of the page are then asked for.

const page = document.querySelector("[data-events]");
const $ = (id) => document.getElementById(id);
let stream = null;
let told = null;
let words = null;
let frame = 0;
let loading = false;
let refreshing = null;
let leaving = false;

// One note up, two level, three down: told apart without looking, and without hearing pitch well.
const tunes = {
  good: [[880, 0, 0.12]],
  look: [[620, 0, 0.1], [620, 0.16, 0.1]],
  failed: [[440, 0, 0.14], [330, 0.18, 0.14], [247, 0.36, 0.2]],
};
let audio = null;
let wanted = recalled() !== "off";

function recalled(value) {
  // A browser may keep nothing.
  try {
    if (value) localStorage.setItem("boxward-sound", value);
    return localStorage.getItem("boxward-sound");
  } catch {
    return null;
  }
}

// Browsers play nothing before a key or a click.
function wake() {
  if (!wanted) return;
  audio ??= new AudioContext();
  audio.resume();
}

function play(tone) {
  if (!wanted || audio?.state !== "running") return;
  for (const [pitch, after, long] of tunes[tone]) {
    const note = audio.createOscillator();
    const loud = audio.createGain();
    const from = audio.currentTime + after;
    note.frequency.value = pitch;
    loud.gain.setValueAtTime(0, from);
    loud.gain.linearRampToValueAtTime(0.25, from + 0.01);
    loud.gain.linearRampToValueAtTime(0, from + long);
    note.connect(loud).connect(audio.destination);
    note.start(from);
    note.stop(from + long);
  }
}

function trouble(text) {
  if ($("trouble").textContent !== text) $("trouble").textContent = text;
}

// The words are the server's: the page is asked for, and its parts are put in place of the old ones.
async function refresh() {
  const response = await fetch("/intake");
  const other = new DOMParser().parseFromString(await response.text(), "text/html");
  if (leaving) return;
  if (!other.querySelector("[data-events]")) return location.reload();
  for (const part of document.querySelectorAll("[data-part]")) {
    const now = other.getElementById(part.id);
    // Nothing is taken from under a person's fingers.
    if (now && part.innerHTML !== now.innerHTML && !part.contains(document.activeElement)) {
      part.className = now.className;
      part.replaceChildren(...now.childNodes);
    }
  }
}

function refreshed() {
  refreshing = (refreshing ?? Promise.resolve()).then(refresh).catch(() => trouble("The program does not answer."));
  return refreshing;
}

async function draw(state) {
  const picture = document.querySelector(".picture img");
  if (!picture || loading || state.frame === frame || document.hidden) return;
  loading = true;
  picture.src = `/intake/frame.jpg?n=${state.frame}`;
  try {
    await picture.decode();
    frame = state.frame;
    const shapes = state.outlines.map((corners) => {
      const shape = document.createElementNS("http://www.w3.org/2000/svg", "polygon");
      shape.setAttribute("points", corners.map((corner) => corner.join(",")).join(" "));
      return shape;
    });
    document.querySelector(".picture svg")?.replaceChildren(...shapes);
  } catch {
    // The next one will come.
  }
  loading = false;
}

function changed(event) {
  trouble("");
  const state = JSON.parse(event.data);
  // What was told before the page was opened is not played.
  if (told !== null && state.tone && state.tone[0] > told) play(state.tone[1]);
  told = state.told;
  if (state.words !== words) refreshed();
  words = state.words;
  if (state.over) close();
  else draw(state);
}

function open() {
  if (stream) return;
  stream = new EventSource(page.dataset.events);
  stream.onmessage = changed;
  stream.onerror = () => trouble(stream?.readyState === EventSource.CLOSED
    ? "This page is told nothing more: load it again." : "No word from the program: it has ended, or is busy.");
}

function close() {
  stream?.close();
  stream = null;
}

// A step is sent without leaving the page; what came of it comes as an event.
async function send(form, event) {
  if (event.defaultPrevented) return;
  event.preventDefault();
  const fields = new URLSearchParams(new FormData(form));
  const line = form.elements.namedItem("line");
  // The next packet may come before the answer.
  if (line) line.value = "";
  try {
    const response = await fetch(form.action, { method: "POST", body: fields, redirect: "manual" });
    if (response.type === "opaqueredirect") {
      trouble("");
      // What was sent stands in the page that is asked for now.
      if (!line) form.reset();
      if (form.contains(document.activeElement)) $("line").focus();
      return await refreshed();
    }
    const answer = new DOMParser().parseFromString(await response.text(), "text/html");
    const why = [...answer.querySelectorAll(".trouble")].map((part) => part.textContent).join(", ");
    trouble(why || answer.body.textContent);
  } catch {
    trouble("The program does not answer; nothing was done.");
  }
  // It was not taken: no input is lost.
  if (line && line.value === "") line.value = fields.get("line");
}

if (page) {
  open();
  $("again").hidden = true;
  const sound = $("sound");
  const show = () => (sound.textContent = wanted ? "Tones: on" : "Tones: off");
  sound.hidden = false;
  show();
  sound.addEventListener("click", () => {
    wanted = !wanted;
    recalled(wanted ? "on" : "off");
    show();
    wake();
    play("good");
  });
  for (const kind of ["keydown", "pointerdown"]) document.addEventListener(kind, wake, true);
  // A form that leads elsewhere must not be overtaken by the page's own loading.
  document.addEventListener("submit", (event) => {
    if (event.defaultPrevented) return;
    leaving = true;
    close();
  });
  addEventListener("pageshow", () => {
    leaving = false;
    open();
  });
  // Browsers open six connections to a server: a page that nobody sees or hears needs none.
  document.addEventListener("visibilitychange", () => (document.hidden && !wanted ? close() : open()));
  document.querySelectorAll("[data-here] form").forEach((form) => form.addEventListener("submit", (event) => send(form, event)));
  const line = $("line");
  if (line) {
    const free = () => document.activeElement === document.body || document.activeElement === null;
    // What a scanner types goes into the field, wherever the focus was left, unless something else is being typed.
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || !/^[0-9\]]$/.test(event.key)) return;
      if (!event.target.closest?.("input, textarea, select")) line.focus();
    }, true);
    const back = () => setTimeout(() => {
      if (free() && document.hasFocus() && document.getSelection().isCollapsed) line.focus({ preventScroll: true });
    });
    document.addEventListener("focusout", back);
    document.addEventListener("click", back);
    addEventListener("focus", back);
    back();
  }
}
