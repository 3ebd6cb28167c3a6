// Shows answers in the page. Without it the form and the examples lead to the answers themselves.
"use strict";

const form = document.querySelector("form");
const field = document.getElementById("q");
const answer = document.getElementById("answer");
const asked = document.getElementById("asked");
const ruler = document.querySelector(".ruler");
const bar = document.getElementById("span");
const arrow = document.getElementById("beyond");
const SCALE = 6; // The ruler is marked so far to each side, in stops.
let latest = 0;

/** The address of a question, as a person would write it. */
function address() {
  const text = encodeURIComponent(field.value).replaceAll("%20", "+").replaceAll("%2F", "/").replaceAll("'", "%27");
  return `${form.getAttribute("action")}?q=${text}`;
}

function part(kind, text) {
  const element = document.createElement(kind);
  element.textContent = text;
  return element;
}

/** Puts lines into the answer, with spaces between them for those who hear it or copy it. */
function show(isWrong, ...lines) {
  answer.className = isWrong ? "wrong" : "";
  answer.replaceChildren(...lines.flatMap((line, index) => (index ? [" ", line] : [line])));
}

/** Shows stops on the ruler: none where there are none, an arrow and how far where they lie beyond its ends. */
function stretch(stops) {
  ruler.classList.toggle("absent", stops === undefined);
  const end = Math.max(-SCALE, Math.min(SCALE, stops ?? 0));
  bar.setAttribute("x", Math.min(0, end));
  bar.setAttribute("width", Math.abs(end));
  const beyond = Math.round((Math.abs(stops ?? 0) - SCALE) * 100) / 100;
  arrow.setAttribute("visibility", beyond > 0 ? "inherit" : "hidden");
  arrow.setAttribute("transform", `scale(${Math.sign(end) || 1} 1)`);
  for (const [side, sign] of [["darker", -1], ["brighter", 1]]) {
    const label = document.getElementById(side);
    label.classList.toggle("beyond", beyond > 0);
    const far = sign === Math.sign(end) ? `${side}, ${beyond} stop${beyond === 1 ? "" : "s"} beyond ${sign < 0 ? "−" : "+"}${SCALE}` : "";
    label.textContent = beyond > 0 ? far : side;
  }
}

function answered({ in_full: full, answer: { summary, exposure_stops: stops } }) {
  const line = part("span", full);
  line.className = "quiet";
  show(false, part("strong", summary), line);
  stretch(stops);
}

function refused(problem) {
  const faults = (problem.errors ?? []).map(({ detail, expected }) => part("span", `${detail}; expected: ${expected}.`));
  if (faults.length) {
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", "answer");
  }
  show(true, ...(faults.length ? faults : [part("span", problem.detail ?? problem.title)]));
  stretch(undefined);
}

async function ask() {
  const question = ++latest;
  const url = address();
  asked.textContent = `curl '${location.origin}${url}'`;
  let told;
  try {
    const response = await fetch(url, { headers: { accept: "application/json" } });
    const body = await response.json();
    told = () => (response.ok ? answered(body) : refused(body));
  } catch {
    told = () => refused({ detail: "The service did not answer." });
  }
  // An answer that was overtaken is not shown.
  if (question !== latest) return;
  field.removeAttribute("aria-invalid");
  field.removeAttribute("aria-describedby");
  told();
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  ask();
});

document.querySelector(".examples").addEventListener("click", (event) => {
  const link = event.target.closest("a");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  field.value = new URL(link.href).searchParams.get("q");
  ask();
});

for (const figure of document.querySelectorAll("figure")) {
  const line = figure.querySelector("code");
  line.textContent = line.textContent.replace("http://127.0.0.1:8080", location.origin);
  // Pages over plain HTTP from another machine may not write to the clipboard.
  if (!navigator.clipboard) continue;
  const caption = figure.querySelector("figcaption");
  const what = caption.textContent;
  const button = part("button", "");
  const name = (text) => {
    button.textContent = text;
    button.setAttribute("aria-label", `${text}: ${what}`);
  };
  name("Copy");
  button.type = "button";
  button.addEventListener("click", async () => {
    name(await navigator.clipboard.writeText(line.textContent).then(() => "Copied", () => "Not copied"));
    setTimeout(name, 2000, "Copy");
  });
  caption.append(button);
}
