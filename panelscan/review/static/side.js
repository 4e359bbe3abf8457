// The column beside the page: what was found, what can be done, labels, history.

import { el, svg } from "./dom.js";
import { bounds, middle, points } from "./geometry.js";
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

const LEAST_SURE = 3, SURE = 0.85;

function doubts(desk) {
  const told = desk.page.doubts.length ? desk.page.doubts : leastSure(desk.page);
  if (!told.length) return null;
  return el("section", {}, el("h2", {}, "Where to look"),
    el("ul", { id: "doubts" }, ...told.map((d, i) => el("li", {}, d.text, " ",
      d.place ? el("button", { type: "button", class: "small", id: `doubt-${i}`,
        "aria-label": `Go to: ${d.text}`, onclick: () => desk.sheet.goTo(d.place) }, "go there")
        : null))));
}

// Where nothing was named, the panels that are least sure.
function leastSure(page) {
  if (page.reviewed) return [];
  return page.panels.map((p, i) => ({ p, i })).filter(({ p }) => p.confidence < SURE)
    .sort((a, b) => a.p.confidence - b.p.confidence).slice(0, LEAST_SURE)
    .map(({ p, i }) => ({ text: `Panel ${i + 1} is only ${Math.round(100 * p.confidence)} % sure.`,
      place: middle(p.ring) }));
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
  const word = (id, key, more) => {
    const input = el("input", { type: "text", id, oninput: () => { draft[key] = input.value; },
      ...more });
    input.value = draft[key];
    return input;
  };
  const name = word("label-name", "name", { placeholder: "scene", "aria-label": "Label" });
  const value = word("label-value", "value", { placeholder: "the storm", "aria-label": "What it is" });
  const told = Object.entries(desk.page.labels).filter(([n]) => n !== "rating");
  return el("section", {}, el("h2", {}, "Labels"),
    el("ul", { id: "labels" }, ...told.map(([n, v]) => el("li", {}, `${n}: ${v} `,
      el("button", { type: "button", class: "small", "aria-label": `Take label ${n} away`,
        onclick: () => desk.label(n, "") }, "take away")))),
    el("form", { class: "labelling", onsubmit: (event) => {
      event.preventDefault();
      const [n, v] = [name.value.trim(), value.value.trim()];
      if (!n) return;
      desk.labelDraft = null;
      desk.label(n, v);
    } }, name, el("span", {}, "is"), value,
    el("button", { type: "submit", id: "label-save" }, "Save")),
    rating(desk));
}

function rating(desk) {
  const select = el("select", { id: "rating", "aria-label": "Rating",
    onchange: () => desk.label("rating", select.value) },
  ...["", "1", "2", "3", "4", "5"].map((v) =>
    el("option", { value: v }, v ? `rating ${v}` : "no rating")));
  select.value = desk.page.labels.rating || "";
  return select;
}

function history(page) {
  if (!page.history.length) return null;
  const shown = page.history.filter((h) => !h.undo);
  return el("section", {}, el("h2", {}, "What was changed"),
    el("ol", { id: "history" }, ...shown.map((h) =>
      el("li", {}, h.counts ? h.words : el("s", {}, h.words), ` (${h.who})`))));
}
