// The drawn page: picture, outlines, order path; zoom and pan; no decisions.

import { bounds, middle, points } from "./geometry.js";
import { svg } from "./dom.js";

export class Sheet {
  constructor() {
    this.image = svg("image", { preserveAspectRatio: "none" });
    this.gutters = svg("g", {});
    this.outlines = svg("g", {});
    this.marks = svg("g", {});
    this.handles = svg("g", {});
    this.draft = svg("g", {});
    this.place = svg("g", {});
    this.root = svg("svg", { role: "application", tabindex: 0, "aria-label": "The page" },
      this.image, this.place, this.gutters, this.outlines, this.marks, this.handles, this.draft);
    this.shapes = new Map();
    this.numbers = [];
  }

  load(page) {
    const [x, y, width, height] = page.picture;
    this.image.setAttribute("href", `/picture/${page.id}`);
    for (const [name, value] of Object.entries({ x, y, width, height })) {
      this.image.setAttribute(name, value);
    }
    this.home = [x - width * 0.03, y - height * 0.03, width * 1.06, height * 1.06];
    this.whole();
  }

  whole() { this.setView([...this.home]); }

  setView(view) {
    this.view = view;
    this.root.setAttribute("viewBox", view.map((v) => v.toFixed(2)).join(" "));
    this.sizeHandles();
    this.sizeNumbers();
  }

  // Source pixels for one pixel of the screen.
  grain() {
    const box = this.root.getBoundingClientRect();
    return Math.max(this.view[2] / Math.max(box.width, 1), this.view[3] / Math.max(box.height, 1));
  }

  at(event) {
    const box = this.root.getBoundingClientRect(), grain = this.grain();
    const left = this.view[0] + this.view[2] / 2 - (box.width * grain) / 2;
    const top = this.view[1] + this.view[3] / 2 - (box.height * grain) / 2;
    return [left + (event.clientX - box.left) * grain, top + (event.clientY - box.top) * grain];
  }

  zoom(factor, about) {
    const [x, y, w, h] = this.view;
    const [cx, cy] = about || [x + w / 2, y + h / 2];
    const least = this.home[2] / 40;
    const width = Math.min(Math.max(w / factor, least), this.home[2] * 2);
    const real = w / width;
    this.setView([cx - (cx - x) / real, cy - (cy - y) / real, width, h / real]);
  }

  goTo([x, y]) {
    const [, , w, h] = this.home;
    this.setView([x - w / 5, y - h / 5, w / 2.5, h / 2.5]);
    this.root.focus();
  }

  pan(dx, dy) {
    const [x, y, w, h] = this.view;
    this.setView([x - dx, y - dy, w, h]);
  }

  draw(page, picked, more) {
    this.shapes.clear();
    const drawn = page.panels.map((panel) => [spread(panel.ring), this.outline(panel, picked)]);
    // The smaller lies above the larger, so that an inset can be taken hold of.
    drawn.sort(([a], [b]) => b - a);
    this.outlines.replaceChildren(...drawn.map(([, group]) => group));
    this.drawPlace(page);
    this.drawMarks(page);
    this.gutters.replaceChildren(...page.gutters.map((ring) =>
      svg("polygon", { class: "gutter", points: points(ring) })));
    this.drawHandles(page, more.handleOf, more.handle);
  }

  // Light beneath, then the sides as they are, so that both show on dark and on light art.
  outline(panel, picked) {
    const group = svg("g", { "data-key": panel.key });
    if (picked.has(panel.key)) group.classList.add("picked");
    const shape = svg("polygon", { class: "panel", points: points(panel.ring) });
    const sides = panel.ring.map((corner, i) => {
      const end = panel.ring[(i + 1) % panel.ring.length];
      return svg("line", { class: `state ${panel.sides[i] || "drawn"}`,
        x1: corner[0], y1: corner[1], x2: end[0], y2: end[1] });
    });
    group.append(shape, ...sides);
    this.shapes.set(panel.key, { shape, sides });
    return group;
  }

  // The page's own edge, and the fold where there is one.
  drawPlace(page) {
    const [, top, , bottom] = bounds(page.frame);
    const fold = page.fold === null ? [] : [svg("line", { class: "fold",
      x1: page.fold, y1: top, x2: page.fold, y2: bottom })];
    this.place.replaceChildren(
      svg("polygon", { class: "pageedge", points: points(page.frame) }), ...fold);
  }

  drawMarks(page) {
    const grain = this.home[2] / 1000;
    const spots = page.panels.map((panel) => middle(panel.ring));
    const way = points(spots);
    const rooms = page.panels.filter((p) => p.room).flatMap((panel) => {
      const [x0, y0, x1, y1] = bounds(panel.ring);
      const place = { x: x0 + 4 * grain, y: y0 + 4 * grain,
        width: Math.max(x1 - x0 - 8 * grain, 1),
        height: Math.max((y1 - y0) * panel.room - 4 * grain, 1) };
      return [svg("rect", { class: "room under", ...place }), svg("rect", { class: "room", ...place })];
    });
    this.numbers = spots.map(([x, y], i) => ({ x, y, node: svg("g", { class: "number" },
      svg("circle", { r: 12 }), svg("text", { "font-size": 14 }, String(i + 1))) }));
    this.marks.replaceChildren(...rooms, svg("polyline", { class: "path under", points: way }),
      svg("polyline", { class: "path", points: way }), ...this.numbers.map((n) => n.node));
    this.sizeNumbers();
  }

  // Numbers stay as large on the screen however near the page is.
  sizeNumbers() {
    const grain = this.grain();
    for (const { x, y, node } of this.numbers) {
      node.setAttribute("transform", `translate(${x} ${y}) scale(${grain})`);
    }
  }

  // Corners and sides of one panel as things to take hold of; handle numbers as in geometry.
  drawHandles(page, key, chosen) {
    const panel = page.panels.find((p) => p.key === key);
    this.held = null;
    if (!panel) { this.handles.replaceChildren(); return; }
    const edges = panel.ring.map((corner, i) => {
      const end = panel.ring[(i + 1) % panel.ring.length];
      return svg("line", { class: "edge", "data-handle": i + 0.5,
        x1: corner[0], y1: corner[1], x2: end[0], y2: end[1] });
    });
    const corners = panel.ring.map(([x, y], i) =>
      svg("circle", { class: "corner", "data-handle": i, cx: x, cy: y }));
    this.held = { key, edges, corners };
    for (const node of [...edges, ...corners]) {
      if (Number(node.dataset.handle) === chosen) node.classList.add("picked");
    }
    this.handles.replaceChildren(...edges, ...corners);
    this.sizeHandles();
  }

  sizeHandles() {
    if (!this.held) return;
    const radius = (matchMedia("(pointer: coarse)").matches ? 13 : 7) * this.grain();
    for (const node of this.held.corners) node.setAttribute("r", radius.toFixed(2));
  }

  // While a drag goes on only the moved panel's own marks change: no layout, no new elements.
  moved(key, ring) {
    const drawn = this.shapes.get(key);
    if (!drawn) return;
    drawn.shape.setAttribute("points", points(ring));
    const lines = [drawn.sides, this.held && this.held.key === key ? this.held.edges : []];
    ring.forEach(([x, y], i) => {
      const [ex, ey] = ring[(i + 1) % ring.length];
      for (const set of lines) {
        const line = set[i];
        if (!line) continue;
        line.setAttribute("x1", x); line.setAttribute("y1", y);
        line.setAttribute("x2", ex); line.setAttribute("y2", ey);
      }
      if (this.held && this.held.key === key && this.held.corners[i]) {
        this.held.corners[i].setAttribute("cx", x);
        this.held.corners[i].setAttribute("cy", y);
      }
    });
  }

  drawDraft(ring, open = false) {
    if (!ring || ring.length < 2) { this.draft.replaceChildren(); return; }
    const name = open ? "polyline" : "polygon";
    const shape = svg(name, { class: "draft", points: points(ring) });
    if (open) shape.setAttribute("fill", "none");
    this.draft.replaceChildren(shape);
  }

  // Another reading of the page, over what stands.
  drawRings(rings, isKnown) {
    this.draft.replaceChildren(...rings.map((ring) =>
      svg("polygon", { class: isKnown(ring) ? "draft kept" : "draft", points: points(ring) })));
  }

  drawCross([x, y]) {
    const reach = 18 * this.grain();
    this.draft.replaceChildren(
      svg("line", { class: "crosshair", x1: x - reach, y1: y, x2: x + reach, y2: y }),
      svg("line", { class: "crosshair", x1: x, y1: y - reach, x2: x, y2: y + reach }));
  }
}

function spread(ring) {
  const [x0, y0, x1, y1] = bounds(ring);
  return (x1 - x0) * (y1 - y0);
}
