
"use strict";
const $ = id => document.getElementById(id);
const most = 40;

// Names as the program folds them: accents and case away, & is and, an apostrophe nothing, other marks a blank.
const words = text => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().replace(/&/g, " and ")
  .replace(/['\u2019]/g, "").replace(/[^\p{Alphabetic}\p{N}]+/gu, " ").trim().split(" ").filter(word => word);
const keyOf = text => {
  const all = words(text);
  if (!all.length) return text.trim();
  return all.slice(all.length > 1 && ["the", "a", "an"].includes(all[0]) ? 1 : 0).join(" ");
};

// An issue's number as the program writes it, to be looked up.
const bareIssue = text =>
  text.trim().replace(/^#+\s*/, "").replace(/^\u2212/, "-").replace(/^(-?)0+(?=\d)/, "$1");
const issueOf = text => {
  const folded = bareIssue(text).normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().replace(/\u2044/g, "/");
  return folded === "1/2" ? "0.5" : folded;
};
const isNumber = text => /^#?[-\u2212]?[\d.]/.test(text) || /^#?\p{N}/u.test(text);

const data = JSON.parse($("books").textContent);
const byIssue = list => new Map((list || []).map(([issue, ...rest]) => [issueOf(issue), [issue, ...rest]]));
const titles = data.titles.map(([name, publisher, year, volume, runs, codes, named, more, wants, dues]) => {
  const key = keyOf(name);
  return {
    name, year, volume: volume || "", key, words: key.split(" "), codes: codes || [],
    about: [volume && "volume " + volume, year, publisher != null && data.publishers[publisher]].filter(part => part).join(", "),
    runs: (runs || "").split(",").filter(run => run).map(run => run.split("-").map(Number)).map(([a, b]) => [a, b ?? a]),
    named: new Set((named || []).map(issueOf)), names: named || [],
    more: new Map(Object.entries(more || {}).map(([issue, printings]) => [issueOf(issue), printings])),
    wants: byIssue(wants), dues: byIssue(dues),
  };
});
const books = titles.reduce((sum, title) => sum + title.names.length
  + title.runs.reduce((run, [from, to]) => run + to - from + 1, 0), 0);

const count = (number, thing) => number.toLocaleString("en") + " " + thing + (number === 1 ? "" : "s");
const line = (text, kind) => {
  const element = document.createElement("p");
  element.textContent = text;
  if (kind) element.className = kind;
  return element;
};
const item = (kind, title, issue, lines) => {
  const element = document.createElement("li"), head = line(title.name + (issue ? " " + issue : ""), "book");
  element.className = kind;
  if (title.about) {
    const about = document.createElement("span");
    about.className = "about";
    about.textContent = " (" + title.about + ")";
    head.append(about);
  }
  element.append(head, ...lines);
  return element;
};
const wantLine = ([issue, upTo, note], named) => line((named ? issue + " " : "") + "wanted"
  + (upTo ? ", up to " + upTo : "") + (note ? ": " + note : ""), "want");
const dueLine = ([issue, week], named) => line((named ? issue + " " : "") + "expected" + (week ? ", due " + week : ""), "due");
const gaps = title => title.runs.slice(1).map(([from], n) => [title.runs[n][1] + 1, from - 1]);
const shown = runs => runs.map(([from, to]) => from === to ? from : from + "\u2013" + to).join(", ");

// What is known of one issue.
function oneIssue(title, typed) {
  const issue = issueOf(typed), number = /^\d+$/.test(issue) ? Number(issue) : null;
  const owned = title.named.has(issue) || number !== null && title.runs.some(([from, to]) => from <= number && number <= to);
  const lines = [];
  if (owned) {
    lines.push(line("\u2713 owned", "word"));
    for (const [cover, printing, copies] of title.more.get(issue) || [["1", 1, 1]])
      lines.push(line("cover " + cover + ", printing " + printing + ": " + copies + (copies === 1 ? " copy" : " copies")));
  } else {
    const gap = number !== null && gaps(title).some(([from, to]) => from <= number && number <= to);
    lines.push(line("\u2717 not owned" + (gap ? ": a gap in the run" : ""), "word"));
  }
  if (!owned && title.wants.has(issue)) lines.push(wantLine(title.wants.get(issue)));
  if (!owned && title.dues.has(issue)) lines.push(dueLine(title.dues.get(issue)));
  return item(owned ? "owned" : "not", title, bareIssue(typed), lines);
}

// What is known of a whole title.
function wholeTitle(title) {
  const owned = [shown(title.runs), ...title.names.map(name => name || "whole book")].filter(part => part).join(", ");
  const lines = [line(owned ? "\u2713 owned: " + owned : "\u2717 nothing owned", "word")];
  const missing = shown(gaps(title));
  if (missing) lines.push(line("missing between: " + missing));
  for (const want of title.wants.values()) lines.push(wantLine(want, true));
  for (const due of title.dues.values()) lines.push(dueLine(due, true));
  return item(owned ? "owned" : "not", title, "", lines);
}

// Titles with all the words, the last perhaps cut short: that very name first, then those that begin so. A year or a
// volume may stand at the end.
function fitting(text) {
  const key = keyOf(text), asked = key ? key.split(" ") : [], last = asked[asked.length - 1];
  if (!asked.length) return [];
  const cut = !/^\d+$/.test(last);
  const has = (title, all) => all.every((word, n) =>
    title.words.some(own => cut && n === all.length - 1 ? own.startsWith(word) : own === word));
  const rank = title => title.key === key ? 0 : title.key.startsWith(key) ? 1 : 2;
  let found = titles.filter(title => has(title, asked));
  if (!found.length && asked.length > 1) {
    const rest = asked.slice(0, -1).filter((word, n) => n < asked.length - 2 || !["volume", "vol", "v"].includes(word));
    found = titles.filter(title => (String(title.year) === last || keyOf(title.volume) === last)
      && rest.length && rest.every(word => title.words.includes(word)));
  }
  return found.sort((a, b) => rank(a) - rank(b) || (a.key < b.key ? -1 : a.key > b.key ? 1 : 0));
}

function search(text) {
  const digits = text.replace(/[\s-]/g, "");
  if (/^\d{12,18}$/.test(digits)) {
    const found = titles.filter(title => title.codes.some(code => digits.startsWith(code) || digits.startsWith("0" + code)));
    return found.map(title => () => wholeTitle(title));
  }
  const found = fitting(text).map(title => () => wholeTitle(title));
  const hash = text.lastIndexOf("#"), at = hash >= 0 ? hash : text.trimEnd().lastIndexOf(" ") + 1;
  const name = text.slice(0, at), issue = text.slice(at).trim();
  if (name.trim() && isNumber(issue) || hash > 0 && issue.length > 1) {
    const named = fitting(name), same = named.filter(title => title.key === keyOf(name));
    found.push(...(same.length ? same : named).map(title => () => oneIssue(title, issue)));
  }
  return found;
}

function show() {
  const text = $("query").value.trim();
  const found = text ? search(text)
    : titles.filter(title => title.wants.size || title.dues.size).map(title => () => wholeTitle(title));
  const all = count(found.length, "answer") + (found.length > most ? ", the first " + most + " shown: type more" : "");
  $("count").textContent = !text ? count(titles.length, "title") + ", " + count(books, "issue") + " owned"
      + (found.length ? "; wanted or expected:" : "")
    : found.length ? all : "Nothing is known of that: not owned.";
  $("found").replaceChildren(...found.slice(0, most).map(make => make()));
}

$("search").addEventListener("submit", event => event.preventDefault());
$("query").addEventListener("input", show);
show();
