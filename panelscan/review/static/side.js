// The column beside the page: what was found, what can be done, labels, history.

import { el } from "./dom.js";

const TOOLS = [
  ["box", "Pull out a panel", "a", (d) => d.setMode("box")],
  ["within", "Click inside a frame", "w", (d) => d.setMode("within")],
  ["cut", "Cut in two", "c", (d) => d.setMode("cut")],
  ["join", "Join", "j", (d) => d.join()],
  ["delete", "Delete", "Delete", (d) => d.remove()],
  ["stroke", "Order by a stroke", "o", (d) => d.setMode("stroke")],
  ["direction", "Turn reading direction", "d", (d) => d.turnDirection()],
  ["bleed", "Side bleeds", "b", (d) => d.markSide("bleed")],
  ["inferred", "Side inferred", "i", (d) => d.markSide("inferred")],
  ["frame", "Page's edge", "e", (d) => d.setMode("frame")],
  ["undo", "Take back", "z", (d) => d.undo()],
  ["redo", "Bring back", "Z", (d) => d.redo()],
];

export function sidePanel(desk) {
  const page = desk.page;
  const kept = desk.side.scrollTop;
  desk.side.replaceChildren(...[
    el("h2", {}, page.name),
    el("p", {}, page.reviewed ? "Looked over: fine." : `${page.doubt} % doubt.`,
      ` Read ${page.direction === "rtl" ? "right to left" : "left to right"}.`),
    el("div", { class: "tools" },
      el("button", { type: "button", id: "fine", onclick: () => desk.fine() },
        "Fine, next ", el("kbd", {}, "g")),
      el("button", { type: "button", onclick: () => desk.go(-1) }, "Back ", el("kbd", {}, "p")),
      el("button", { type: "button", onclick: () => desk.go(1) }, "Next ", el("kbd", {}, "n"))),
    el("h2", {}, "Mend"),
    el("div", { class: "tools" }, ...TOOLS.map(([name, words, key, act]) =>
      el("button", { type: "button", id: `tool-${name}`, onclick: () => act(desk),
        "aria-pressed": desk.mode.name === name ? "true" : null }, `${words} `,
      el("kbd", {}, key)))),
    doubts(page), readings(desk), panels(desk), reuse(desk), labels(desk), history(page),
  ].filter(Boolean));
  desk.side.scrollTop = kept;
}

function doubts(page) {
  if (!page.doubts.length) return null;
  return el("div", {}, el("h2", {}, "Doubts"),
    el("ul", {}, ...page.doubts.map((d) => el("li", {}, d.text))));
}

function readings(desk) {
  if (!desk.page.readings.length) return null;
  return el("div", {}, el("h2", {}, "Or did you mean"),
    el("div", { class: "tools" }, ...desk.page.readings.map((r, i) =>
      el("button", { type: "button", "data-reading": i, onclick: () => desk.useReading(i),
        onfocus: () => desk.sheet.drawDraft(r.panels.flat()),
        onblur: () => desk.sheet.drawDraft(null) },
      `${r.panels.length} panels (${Math.round(100 * r.probability)} %) `,
      i === 0 ? el("kbd", {}, "m") : null))));
}

function panels(desk) {
  return el("div", { class: "panels" }, el("h2", {}, "Panels in reading order"),
    ...desk.page.panels.map((panel, i) =>
      el("button", { type: "button", "aria-pressed": String(desk.picked.has(panel.key)),
        onclick: (event) => desk.pick(panel.key, event.shiftKey) },
      `${i + 1}: ${panel.ring.length} corners, ${Math.round(100 * panel.confidence)} %`,
      panel.bleed.length ? `, bleeds ${panel.bleed.join(", ")}` : "")));
}

function reuse(desk) {
  return el("div", {}, el("h2", {}, "Use this grid"),
    el("div", { class: "tools" },
      el("button", { type: "button", id: "alike", onclick: () => desk.alike() }, "Pages like this ",
        el("kbd", {}, "l")),
      el("button", { type: "button", id: "template", onclick: () => desk.template() },
        "As a template ", el("kbd", {}, "t")),
      el("button", { type: "button", id: "check", onclick: () => desk.check() }, "Check ",
        el("kbd", {}, "k"))),
    desk.answer || null);
}

function labels(desk) {
  const name = el("input", { type: "text", id: "label-name", size: 9, placeholder: "scene" });
  const value = el("input", { type: "text", id: "label-value", size: 11 });
  const rating = el("select", { id: "rating", "aria-label": "Rating" },
    ...["", "1", "2", "3", "4", "5"].map((v) => el("option", { value: v }, v || "no rating")));
  rating.value = desk.page.labels.rating || "";
  rating.addEventListener("change", () => desk.label("rating", rating.value));
  return el("div", {}, el("h2", {}, "Labels"),
    el("ul", {}, ...Object.entries(desk.page.labels).map(([n, v]) => el("li", {}, `${n}: ${v}`))),
    el("form", { class: "tools", onsubmit: (event) => {
      event.preventDefault();
      if (name.value.trim()) desk.label(name.value.trim(), value.value.trim());
    } },
    el("label", { for: "label-name" }, "Label"), name,
    el("label", { for: "label-value" }, "is"), value,
    el("button", { type: "submit" }, "Save")),
    rating);
}

function history(page) {
  if (!page.history.length) return null;
  return el("div", {}, el("h2", {}, "What was changed"),
    el("ol", {}, ...page.history.map((h) =>
      el("li", {}, h.counts || h.undo ? h.words : el("s", {}, h.words), ` (${h.who})`))));
}
