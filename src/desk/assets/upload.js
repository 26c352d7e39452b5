// Photos are sent one at a time, so that each one's result is seen as soon as it is there. Without this, a form sends all
// of them and a page tells the results.

// While one photo is read, the next is on its way.
const AT_ONCE = 2;

function line(name) {
  const item = document.createElement("li"), label = document.createElement("p"), bar = document.createElement("progress");
  item.className = "told";
  label.className = "label";
  label.textContent = name;
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", `how much of ${name} is sent`);
  item.append(label, bar);
  return item;
}

function enhance(panel) {
  const status = panel.querySelector("[role=status]"), list = panel.querySelector("ol");
  const waiting = [];
  let sending = 0, done = 0, all = 0;

  function count(said) {
    status.textContent = `${done} of ${all} ${all === 1 ? "photo" : "photos"} done. ${said}`;
  }

  function over(job, said) {
    sending -= 1;
    done += 1;
    count(said);
    next();
  }

  function failed(job, why) {
    const text = document.createElement("p"), again = document.createElement("button");
    const word = document.createElement("strong");
    word.className = "bad";
    word.textContent = "not taken";
    text.append(word, `: ${why}`);
    again.type = "button";
    again.className = "small";
    again.textContent = "Send it again";
    again.addEventListener("click", () => {
      const fresh = line(job.file.name);
      job.item.replaceWith(fresh);
      job.item = fresh;
      done -= 1;
      waiting.push(job);
      next();
    });
    const label = job.item.querySelector(".label");
    job.item.replaceChildren(label, text, again);
    over(job, `${job.file.name}: not taken, ${why}`);
  }

  function send(job) {
    const bar = job.item.querySelector("progress"), form = new FormData(), request = new XMLHttpRequest();
    form.append("photo", job.file, job.file.name);
    request.open("POST", `${job.action}&part=1`);
    request.upload.addEventListener("progress", (event) => { if (event.lengthComputable) bar.value = event.loaded / event.total; });
    request.upload.addEventListener("load", () => { bar.removeAttribute("value"); bar.setAttribute("aria-label", `${job.file.name} is being read`); });
    request.addEventListener("load", () => {
      const kind = request.getResponseHeader("content-type") ?? "";
      if (request.status === 200) {
        const parsed = document.createElement("template");
        parsed.innerHTML = request.responseText;
        const said = parsed.content.querySelector("[data-said]")?.dataset.said ?? "";
        job.item.replaceWith(parsed.content);
        over(job, said);
      } else {
        failed(job, kind.startsWith("text/plain") ? request.responseText.trim() : `the desk answered with ${request.status}`);
      }
    });
    request.addEventListener("error", () => failed(job, "it did not arrive; is the desk still open, and the network there?"));
    request.addEventListener("abort", () => failed(job, "it was broken off"));
    request.send(form);
  }

  function next() {
    while (sending < AT_ONCE && waiting.length) {
      sending += 1;
      send(waiting.shift());
    }
  }

  function take(action, files) {
    for (const file of files) {
      const job = { action, file, item: line(file.name) };
      list.prepend(job.item);
      waiting.push(job);
      all += 1;
    }
    if (files.length) count("");
    next();
  }

  panel.classList.add("live");
  const forms = [...panel.querySelectorAll("form")];
  for (const form of forms) {
    const input = form.querySelector("input[type=file]");
    const takeChosen = () => {
      const files = [...input.files];
      input.value = "";
      take(form.getAttribute("action"), files);
    };
    input.addEventListener("change", takeChosen);
    form.addEventListener("submit", (event) => { event.preventDefault(); takeChosen(); });
  }
  // The whole page takes them: what misses the panel would be opened in its place.
  document.addEventListener("dragover", (event) => { event.preventDefault(); panel.classList.add("over"); });
  document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) panel.classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    panel.classList.remove("over");
    take(forms[0].getAttribute("action"), [...event.dataTransfer.files]);
  });
  // Leaving now would lose what was not sent yet.
  addEventListener("beforeunload", (event) => { if (sending || waiting.length) event.preventDefault(); });
}

const panel = document.querySelector("[data-photos]");
if (panel) enhance(panel);
