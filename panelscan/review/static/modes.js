// Ways of working on the page; each takes pointer moves, arrow keys and Enter.

import { say } from "./dom.js";
import { bounds, box, inside, middle, moveHandle, touched } from "./geometry.js";

// Picking and dragging corners, sides; an empty spot pans.
function pick(desk) {
  let drag = null;
  return {
    name: "pick",
    down(at, event) {
      const handle = event.target.dataset?.handle;
      if (handle !== undefined && desk.only()) {
        const panel = desk.panel(desk.only());
        desk.handle = Number(handle);
        drag = { panel, handle: desk.handle, start: at, ring: panel.ring, moved: false };
        return;
      }
      const group = event.target.closest("[data-key]");
      drag = { pan: true, moved: false, key: group ? group.dataset.key : null,
        more: event.shiftKey, at: [event.clientX, event.clientY] };
    },
    move(at, event, step) {
      if (!drag) return;
      if (drag.pan) {
        const far = Math.hypot(event.clientX - drag.at[0], event.clientY - drag.at[1]);
        if (far > 4) drag.moved = true;
        if (drag.moved) desk.sheet.pan(step[0], step[1]);
        return;
      }
      drag.moved = true;
      drag.panel.ring = moveHandle(drag.ring, drag.handle, at[0] - drag.start[0],
        at[1] - drag.start[1]);
      if (!drag.waiting) {
        drag.waiting = true;
        const held = drag;
        requestAnimationFrame(() => {
          held.waiting = false;
          desk.sheet.moved(held.panel.key, held.panel.ring);
        });
      }
    },
    up(at, event) {
      const done = drag;
      drag = null;
      if (!done) return;
      if (done.pan) { if (!done.moved) desk.pick(done.key, done.more); return; }
      const sides = event.altKey ? null : sidesOf(done.handle, done.panel.ring.length);
      if (done.moved) desk.setOutline(done.panel.key, done.panel.ring, sides);
      else desk.draw();
    },
    cancel() {
      if (drag && drag.ring) { drag.panel.ring = drag.ring; desk.draw(); }
      drag = null;
    },
    arrow: null,
  };
}

// Sides that a dragged corner or side changes.
function sidesOf(handle, count) {
  return Number.isInteger(handle) ? [(handle + count - 1) % count, handle] : [Math.floor(handle)];
}

// Pulling out a box for a panel that was missed.
function boxed(desk) {
  let start = null, ring = null;
  return {
    name: "box",
    hint: "Pull out a box.",
    keys: "Arrows move it, Shift and arrows size it, Enter saves.",
    down(at) { start = at; },
    move(at) {
      if (!start) return;
      ring = box(start[0], start[1], at[0], at[1]);
      desk.sheet.drawDraft(ring);
    },
    up() {
      const made = start && ring;
      start = null;
      if (made) finish(desk, () => desk.add(made));
    },
    draw() {
      const [x, y, w, h] = desk.sheet.view;
      ring = ring || box(x + w * 0.4, y + h * 0.4, x + w * 0.6, y + h * 0.6);
      desk.sheet.drawDraft(ring);
    },
    arrow(dx, dy, big) {
      const [x0, y0, x1, y1] = bounds(ring);
      ring = big ? box(x0, y0, x1 + dx, y1 + dy) : box(x0 + dx, y0 + dy, x1 + dx, y1 + dy);
      desk.sheet.drawDraft(ring);
    },
    enter() { const made = ring; finish(desk, () => desk.add(made)); },
    cancel() { start = null; },
  };
}

// Clicking inside a frame that was missed; the detector proposes its outline.
function within(desk) {
  let spot = null;
  return {
    name: "within",
    hint: "Click inside a frame.",
    keys: "Arrows move the cross, Enter proposes.",
    down(at) { spot = at; },
    move() {},
    up() { const at = spot; finish(desk, () => desk.propose(at)); },
    draw() {
      const [x, y, w, h] = desk.sheet.view;
      spot = spot || [x + w / 2, y + h / 2];
      desk.sheet.drawCross(spot);
    },
    arrow(dx, dy) { spot = [spot[0] + dx, spot[1] + dy]; desk.sheet.drawCross(spot); },
    enter() { const at = spot; finish(desk, () => desk.propose(at)); },
  };
}

// Cutting a panel in two along a line.
function cut(desk) {
  let start = null, line = null;
  const send = (ends) => {
    const panel = desk.only() || under(desk, [(ends[0][0] + ends[1][0]) / 2,
      (ends[0][1] + ends[1][1]) / 2]);
    if (!panel) { say("Draw the line across a panel."); return; }
    desk.cut(panel, ends);
  };
  return {
    name: "cut",
    hint: "Draw a line across a panel.",
    keys: "Arrows move it, R turns it, Enter cuts.",
    down(at) { start = at; },
    move(at) {
      if (!start) return;
      line = [start, at];
      desk.sheet.drawDraft(line, true);
    },
    up() {
      const ends = start && line;
      start = null;
      if (ends) finish(desk, () => send(ends));
    },
    draw() {
      const panel = desk.panel(desk.only());
      if (panel && !line) {
        const [x0, , x1] = bounds(panel.ring), y = middle(panel.ring)[1];
        line = [[x0, y], [x1, y]];
      }
      if (line) desk.sheet.drawDraft(line, true);
    },
    arrow(dx, dy) {
      if (!line) return;
      line = line.map(([x, y]) => [x + dx, y + dy]);
      desk.sheet.drawDraft(line, true);
    },
    turn() {
      const panel = desk.panel(desk.only());
      if (!panel || !line) return;
      const [x0, y0, x1, y1] = bounds(panel.ring), [mx, my] = middle(panel.ring);
      const level = line[0][1] === line[1][1];
      line = level ? [[mx, y0], [mx, y1]] : [[x0, my], [x1, my]];
      desk.sheet.drawDraft(line, true);
    },
    enter() {
      if (!line) { say("Pick a panel first: Tab."); return; }
      const ends = line;
      finish(desk, () => send(ends));
    },
    cancel() { start = null; },
  };
}

// One stroke through the panels in turn sets their order.
function stroke(desk) {
  let line = null, told = [];
  return {
    name: "stroke",
    hint: "Draw one stroke through the panels in turn.",
    keys: "Tab and Space number them, Enter saves.",
    down(at) { line = [at]; },
    move(at) {
      if (!line) return;
      const [x, y] = line[line.length - 1];
      const far = Math.hypot(at[0] - x, at[1] - y), step = 3 * desk.sheet.grain();
      // Fast strokes leave far points: walk between them so that no panel is jumped.
      for (let d = step; d < far; d += step) {
        line.push([x + ((at[0] - x) * d) / far, y + ((at[1] - y) * d) / far]);
      }
      line.push(at);
      desk.sheet.drawDraft(line, true);
    },
    up() {
      const drawn = line;
      line = null;
      if (drawn && drawn.length > 1) {
        finish(desk, () => desk.reorder((panels) => touched(panels, drawn)));
      }
    },
    space() {
      const key = desk.only();
      if (!key || told.includes(key)) return;
      told.push(key);
      say(`Number ${told.length}. Tab to the next panel, Enter saves.`);
    },
    enter() { const order = told; finish(desk, () => desk.reorder(() => order)); },
    cancel() { line = null; desk.sheet.drawDraft(null); },
  };
}

// Joining: pick the second panel, by click or by Tab and Enter.
function join(desk) {
  const first = desk.only();
  const send = (other) => {
    if (!first || !other || first === other) { say("Pick two different panels."); return; }
    desk.change([{ kind: "merge-panels", panels: [first, other] }], "Panels joined.");
  };
  return {
    name: "join",
    hint: first ? "Pick the panel to join with." : "Pick a panel first, then join.",
    keys: first ? "Tab to it and press Enter." : "",
    down() {},
    move() {},
    up(at) { const other = under(desk, at); finish(desk, () => send(other)); },
    enter() { const other = desk.only(); finish(desk, () => send(other)); },
  };
}

// The page's own edge inside the picture: drag its corners.
function frame(desk) {
  let ring = desk.page.frame.map((p) => [...p]), held = null, chosen = 0;
  const save = () => finish(desk, () =>
    desk.change([{ kind: "page-frame", outline: ring }], "The page's edge was set."));
  return {
    name: "frame",
    hint: "Drag a corner of the page.",
    keys: "Full stop for the next corner, arrows, Enter saves.",
    down(at) {
      const far = ring.map(([x, y]) => Math.hypot(x - at[0], y - at[1]));
      held = far.indexOf(Math.min(...far));
    },
    move(at) {
      if (held === null) return;
      ring[held] = at;
      desk.sheet.drawDraft(ring);
    },
    up() { if (held !== null) { held = null; save(); } },
    draw() { desk.sheet.drawDraft(ring); },
    next() { chosen = (chosen + 1) % ring.length; say(`Corner ${chosen + 1}`, 1500); },
    arrow(dx, dy) { ring = moveHandle(ring, chosen, dx, dy); desk.sheet.drawDraft(ring); },
    enter: save,
    cancel() { held = null; },
  };
}

// The fold of a spread: drag the line; Delete says that there is none.
function fold(desk) {
  const [x0, y0, x1, y1] = bounds(desk.page.frame);
  let x = desk.page.fold ?? (x0 + x1) / 2, held = false;
  const show = () => desk.sheet.drawDraft([[x, y0], [x, y1]], true);
  const save = (to) => finish(desk, () => desk.change([{ kind: "fold", x_px: to }],
    to === null ? "This page has no fold." : "The fold was set."));
  return {
    name: "fold",
    hint: "Drag the fold.",
    keys: "Arrows move it, Enter saves, Delete: there is no fold.",
    down(at) { held = true; x = at[0]; show(); },
    move(at) { if (held) { x = at[0]; show(); } },
    up() { if (held) save(x); },
    draw: show,
    arrow(dx) { x += dx; show(); },
    enter: () => save(x),
    remove: () => save(null),
    cancel() { held = false; },
  };
}

function under(desk, at) {
  const hit = desk.page.panels.filter((p) => inside(p.ring, at));
  const size = (p) => { const [x0, y0, x1, y1] = bounds(p.ring); return (x1 - x0) * (y1 - y0); };
  hit.sort((a, b) => size(a) - size(b));
  return hit.length ? hit[0].key : null;
}

function finish(desk, act) {
  desk.setMode("pick");
  act();
}

export const modes = { pick, box: boxed, within, cut, stroke, join, frame, fold };
