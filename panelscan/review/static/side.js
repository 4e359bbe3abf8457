// The column beside the page: what was found, what can be done, labels, history.

import { el, svg } from "./dom.js";
import { bounds, points } from "./geometry.js";
import { reuseTools } from "./reuse.js";

export function sidePanel(desk) {
  const scrolled = desk.side.scrollTop, focused = desk.side.contains(document.activeElement)
    ? document.activeElement.id : "";
  desk.side.replaceChildren(...[
    head(desk), readings(desk), doubts(desk), panels(desk), reuseTools(desk), labels(desk), history(desk.page),
  ].filter(Boolean));
  desk.side.scrollTop = scrolled;
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

function head(desk) {
  const page = desk.page;
  const state = page.reviewed ? "Looked over: fine" : `${page.doubt} % doubt`;
  const way = page.direction === "rtl" ? "right to left" : "left to right";
  return el("section", { class: "head" },
    el("h2", { class: "name" }, page.name),
    el("p", { class: page.reviewed ? "good" : "quiet" }, `${state}. Reads ${way}.`),
    el("div", { class: "tools" },
      el("button", { type: "button", id: "fine", class: "main", onclick: () => desk.fine() },
        "Fine, next ", el("kbd", {}, "g")),
      el("button", { type: "button", id: "back", onclick: () => desk.go(-1) }, "Back ",
        el("kbd", {}, "p")),
      el("button", { type: "button", id: "next", onclick: () => desk.go(1) }, "Next ",
        el("kbd", {}, "n"))));
}

function doubts(desk) {
  const page = desk.page;
  if (!page.doubts.length) return null;
  return el("section", {}, el("h2", {}, "Where to look"),
    el("ul", { id: "doubts" }, ...page.doubts.map((d, i) => el("li", {}, d.text, " ",
      d.place ? el("button", { type: "button", class: "small", id: `doubt-${i}`,
        "aria-label": `Go to: ${d.text}`, onclick: () => desk.sheet.goTo(d.place) }, "go there")
        : null))));
}

function readings(desk) {
  const others = desk.otherReadings();
  if (!others.length) return null;
  const shown = (reading) => () => desk.sheet.drawRings(reading ? reading.panels : [],
    (ring) => desk.isKnown(ring));
  return el("section", {}, el("h2", {}, "Or did you mean"),
    el("div", { class: "readings" }, ...others.map((r, i) => {
      const count = r.panels.length === 1 ? "1 panel" : `${r.panels.length} panels`;
      return el("button", { type: "button", id: `reading-${i}`, class: "reading",
        onclick: () => desk.useReading(i), onfocus: shown(r), onpointerenter: shown(r),
        onblur: shown(null), onpointerleave: shown(null),
        "aria-label": `Another reading: ${count}, ${likely(r)} likely` },
      tiny(desk, r.panels),
      el("span", {}, `${count} `, i === 0 ? el("kbd", {}, "m") : null),
      el("span", {}, likely(r)));
    })));
}

function likely(reading) {
  const percent = Math.round(100 * reading.probability);
  return percent < 1 ? "under 1 %" : `${percent} %`;
}

// A reading as a small drawing; what differs from the page as it stands is filled.
function tiny(desk, rings) {
  const [x0, y0, x1, y1] = bounds(desk.page.frame);
  return svg("svg", { viewBox: `${x0} ${y0} ${x1 - x0} ${y1 - y0}`, "aria-hidden": "true" },
    ...rings.map((ring) => svg("polygon", { class: desk.isKnown(ring) ? "kept" : "other",
      points: points(ring) })));
}

function panels(desk) {
  return el("section", { class: "panels" }, el("h2", {}, "Panels in reading order"),
    ...desk.page.panels.map((panel, i) =>
      el("button", { type: "button", id: `panel-${panel.key}`,
        "aria-pressed": String(desk.picked.has(panel.key)),
        onclick: (event) => desk.pick(panel.key, event.shiftKey) },
      el("b", {}, String(i + 1)), ` ${facts(panel)}`)));
}

function facts(panel) {
  return [
    `${Math.round(100 * panel.confidence)} % sure`,
    panel.ring.length === 4 ? "" : `${panel.ring.length} corners`,
    panel.bleed.length ? `bleeds ${panel.bleed.join(", ")}` : "",
  ].filter(Boolean).join(", ");
}

function labels(desk) {
  const draft = desk.labelDraft ||= { name: "", value: "" };
  const name = el("input", { type: "text", id: "label-name", size: 9, placeholder: "scene",
    oninput: () => { draft.name = name.value; } });
  const value = el("input", { type: "text", id: "label-value", size: 11,
    oninput: () => { draft.value = value.value; } });
  name.value = draft.name;
  value.value = draft.value;
  const rating = el("select", { id: "rating", "aria-label": "Rating",
    onchange: () => desk.label("rating", rating.value) },
  ...["", "1", "2", "3", "4", "5"].map((v) =>
    el("option", { value: v }, v ? `rating ${v}` : "no rating")));
  rating.value = desk.page.labels.rating || "";
  const told = Object.entries(desk.page.labels).filter(([n]) => n !== "rating");
  return el("section", {}, el("h2", {}, "Labels"),
    el("ul", { id: "labels" }, ...told.map(([n, v]) => el("li", {}, `${n}: ${v} `,
      el("button", { type: "button", class: "small", "aria-label": `Take label ${n} away`,
        onclick: () => desk.label(n, "") }, "take away")))),
    el("form", { class: "tools", onsubmit: (event) => {
      event.preventDefault();
      const [n, v] = [name.value.trim(), value.value.trim()];
      if (!n) return;
      desk.labelDraft = null;
      desk.label(n, v);
    } },
    el("label", { for: "label-name" }, "Label"), name,
    el("label", { for: "label-value" }, "is"), value,
    el("button", { type: "submit", id: "label-save" }, "Save")),
    rating);
}

function history(page) {
  if (!page.history.length) return null;
  const shown = page.history.filter((h) => !h.undo);
  return el("section", {}, el("h2", {}, "What was changed"),
    el("ol", { id: "history" }, ...shown.map((h) =>
      el("li", {}, h.counts ? h.words : el("s", {}, h.words), ` (${h.who})`))));
}
