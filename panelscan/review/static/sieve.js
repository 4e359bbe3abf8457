// Above the shelf: which pages are shown, and in which order.

import { el } from "./dom.js";

const ORDERS = [
  ["bookdoubt", "by book, most doubtful first"],
  ["doubt", "most doubtful of all first"],
  ["book", "by book and page"],
];

export function sieve(shelf) {
  const ask = (event) => { event.preventDefault(); shelf.again(); };
  shelf.count = el("span", { role: "status", class: "count" });
  return el("form", { class: "sieve", onsubmit: ask },
    order(shelf),
    el("details", { open: matchMedia("(min-width: 760px)").matches },
      el("summary", {}, "Which pages"),
      el("div", { class: "choices" },
        least(shelf), label(shelf),
        el("label", {}, "Grid", words(shelf, "grid", "two then any then one")),
        el("label", {}, "Pages where", words(shelf, "where", "panel_count >= 5")),
        el("button", { type: "submit", id: "sift" }, "Show"))),
    shelf.count);
}

function order(shelf) {
  const select = el("select", { id: "order", onchange: () => {
    shelf.sort = select.value;
    shelf.sift();
  } }, ...ORDERS.map(([value, told]) => el("option", { value }, told)));
  select.value = shelf.sort;
  return el("label", {}, "Order", select);
}

function least(shelf) {
  const told = el("output", { for: "least" }, `${shelf.least} %`);
  const range = el("input", { type: "range", min: 0, max: 100, id: "least", oninput: () => {
    shelf.least = Number(range.value);
    told.textContent = `${shelf.least} %`;
    shelf.sift();
  } });
  range.value = shelf.least;
  return el("label", {}, el("span", {}, "At least this doubtful: ", told), range);
}

function words(shelf, name, example) {
  const input = el("input", { type: "text", id: name, placeholder: example,
    oninput: () => { shelf.asked[name] = input.value; } });
  input.value = shelf.asked[name];
  return input;
}

function label(shelf) {
  const choice = (name, value) => el("option", { value: JSON.stringify([name, value]) },
    name ? `${name}: ${value}` : "any");
  const all = Object.entries(shelf.labels).flatMap(([name, values]) =>
    values.map((value) => choice(name, value)));
  const select = el("select", { id: "label", onchange: () => {
    [shelf.asked.label, shelf.asked.value] = JSON.parse(select.value);
    shelf.again();
  } }, choice("", ""), ...all);
  select.value = JSON.stringify([shelf.asked.label, shelf.asked.value]);
  return el("label", {}, "Label", select);
}
