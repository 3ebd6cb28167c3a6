// Shows answers in the page. Without it the form and the examples lead to the answers themselves.
"use strict";

const form = document.querySelector("form");
const answer = document.getElementById("answer");
const asked = document.getElementById("asked");
const bar = document.getElementById("span");
const fields = ["from", "to"].map((name) => document.getElementById(name));
const ENDS = 6.5; // of the ruler, in stops
let latest = 0;

/** The address of a question, as a person would write it. */
function address() {
  const part = (field) => `${field.name}=${encodeURIComponent(field.value).replaceAll("%2F", "/").replaceAll("'", "%27")}`;
  // Who writes feet is told feet.
  const units = fields.some((field) => /ft|foot|feet|['′]/i.test(field.value)) ? "&units=imperial" : "";
  return `${form.getAttribute("action")}?${fields.map(part).join("&")}${units}`;
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

function stretch(stops) {
  const end = Math.max(-ENDS, Math.min(ENDS, stops));
  bar.setAttribute("x", Math.min(0, end));
  bar.setAttribute("width", Math.abs(end));
}

function converted(isFeet, { from, to, unit, exposure_stops: stops, light_ratio: ratio }) {
  const side = ({ mark, value, value_ft: feet }) =>
    isFeet && feet !== undefined ? `${feet} ft (${value} m)` : mark ? `${mark} (${value})` : unit ? `${value} ${unit}` : `${value}`;
  const sign = stops < 0 ? "−" : stops > 0 ? "+" : "";
  const size = Math.abs(stops);
  const word = stops < 0 ? "darker, " : stops > 0 ? "brighter, " : "";
  const both = part("span", `${side(from)} to ${side(to)}`);
  both.className = "quiet";
  show(false, part("strong", `${sign}${size} ${size === 1 ? "stop" : "stops"}`), part("span", `${word}${ratio} times the light`), both);
  stretch(stops);
}

function refused(problem) {
  const labels = fields.map((field) => field.labels[0].textContent);
  const faults = (problem.errors ?? []).map(({ pointer, detail, expected }) => {
    const at = fields.findIndex((field) => pointer === `/${field.name}`);
    fields[at]?.setAttribute("aria-invalid", "true");
    fields[at]?.setAttribute("aria-describedby", "answer");
    return part("span", `${at < 0 ? "" : `${labels[at]}: `}${detail}; expected: ${expected}.`);
  });
  show(true, ...(faults.length ? faults : [part("span", problem.detail ?? problem.title)]));
  stretch(0);
}

async function ask() {
  const question = ++latest;
  const url = address();
  asked.textContent = `curl '${location.origin}${url}'`;
  let told;
  try {
    const response = await fetch(url, { headers: { accept: "application/json" } });
    const body = await response.json();
    told = () => (response.ok ? converted(url.includes("units=imperial"), body) : refused(body));
  } catch {
    told = () => refused({ detail: "The service did not answer." });
  }
  // An answer that was overtaken is not shown.
  if (question !== latest) return;
  for (const field of fields) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
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
  const query = new URL(link.href).searchParams;
  for (const field of fields) field.value = query.get(field.name);
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
