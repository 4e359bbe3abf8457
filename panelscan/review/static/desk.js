// The desk: one page, what is picked on it, and every change that can be made to it.

import { get, post } from "./api.js";
import { el, say } from "./dom.js";
import { Sheet } from "./sheet.js";
import { modes } from "./modes.js";
import { bounds, moveHandle } from "./geometry.js";
import { sidePanel } from "./side.js";

const SETTLE_MS = 450;

export class Desk {
  constructor(place, shelf, tellProgress) {
    this.place = place;
    this.shelf = shelf;
    this.tellProgress = tellProgress;
    this.sheet = new Sheet();
    this.picked = new Set();
    this.handle = null;
    this.undone = [];
    this.groups = [];
    this.waiting = Promise.resolve();
    this.pointers = new Map();
    this.listen();
  }

  async open(id) {
    this.page = await get(`/api/page/${encodeURIComponent(id)}`);
    this.picked.clear();
    this.handle = null;
    this.undone = [];
    this.groups = [];
    this.mode = modes.pick(this);
    this.side = el("aside", { class: "side", "aria-label": "What was found on this page" });
    const table = el("div", { class: "table" }, this.sheet.root);
    this.place.replaceChildren(el("div", { class: "desk" }, table, this.side));
    this.sheet.load(this.page);
    this.draw();
    this.sheet.root.focus();
  }

  draw() {
    this.sheet.draw(this.page, this.picked, { handleOf: this.only(), handle: this.handle });
    sidePanel(this);
    this.mode.draw?.();
  }

  panel(key) { return this.page.panels.find((p) => p.key === key); }

  only() { return this.picked.size === 1 ? [...this.picked][0] : null; }

  pick(key, more = false) {
    if (!more) this.picked.clear();
    if (key && this.picked.has(key)) this.picked.delete(key);
    else if (key) this.picked.add(key);
    this.handle = null;
    this.draw();
  }

  pickNext(step) {
    const keys = this.page.panels.map((p) => p.key);
    if (!keys.length) return;
    const at = keys.indexOf([...this.picked].pop());
    const next = at < 0 ? (step > 0 ? 0 : keys.length - 1) : (at + step + keys.length) % keys.length;
    this.pick(keys[next]);
    say(`Panel ${next + 1} of ${keys.length}`, 1500);
  }

  pickHandle(step) {
    const panel = this.panel(this.only());
    if (!panel) return;
    const count = panel.ring.length * 2;
    const at = this.handle === null ? (step > 0 ? -1 : 0) : this.handle * 2;
    this.handle = ((at + step + count) % count) / 2;
    this.draw();
  }

  setMode(name) {
    this.mode.leave?.();
    this.sheet.drawDraft(null);
    this.mode = modes[name](this);
    if (this.mode.hint) say(this.mode.hint, 8000);
    this.draw();
    this.sheet.root.focus();
  }

  // Changes go to the server one after the other; each is saved before the next is sent.
  change(changes, done) {
    this.waiting = this.waiting.then(() => this.send(changes, done));
    return this.waiting;
  }

  async send(changes, done) {
    const before = this.page.revision;
    try {
      const page = await post(`/api/page/${encodeURIComponent(this.page.id)}/change`,
        { revision: before, changes });
      this.taken(page);
      if (!changes.some((c) => c.kind === "undo")) {
        this.undone = [];
        this.groups.push(numbers(before, page.revision));
      }
      if (done) say(done);
    } catch (error) {
      await this.refused(error);
    }
  }

  async refused(error) {
    if (error.status === 409) {
      this.taken(await get(`/api/page/${encodeURIComponent(this.page.id)}`));
      say("Another window changed this page meanwhile. You see it as it stands now; nothing was " +
        "overwritten. Make your change once more if it is still wanted.", 15000);
    } else {
      say(error.message, 12000);
      this.draw();
    }
  }

  taken(page) {
    this.page = page;
    const keys = new Set(page.panels.map((p) => p.key));
    for (const key of [...this.picked]) if (!keys.has(key)) this.picked.delete(key);
    const held = this.panel(this.only());
    if (!held || (this.handle !== null && this.handle >= held.ring.length)) this.handle = null;
    this.shelf.mark(page.id, page.doubt, page.reviewed, tiersOf(page), boxesOf(page));
    this.draw();
    this.tellProgress();
  }

  undo() {
    const live = this.page.history.filter((h) => h.counts && !h.undo);
    if (!live.length) { say("There is nothing left to take back."); return; }
    const last = live[live.length - 1].revision;
    const group = this.groups.find((g) => g.includes(last)) || [last];
    const before = this.page.revision;
    const changes = [...group].reverse().map((revision) => ({ kind: "undo", revision }));
    this.change(changes, "Taken back.").then(() => {
      this.undone.push(numbers(before, this.page.revision));
    });
  }

  redo() {
    const group = this.undone.pop() || this.lastUndoing();
    if (!group) { say("There is nothing to bring back."); return; }
    const changes = [...group].reverse().map((revision) => ({ kind: "undo", revision }));
    this.change(changes, "Brought back.");
  }

  // After a reload the last undoing that still counts can be undone itself.
  lastUndoing() {
    const history = this.page.history;
    const last = history[history.length - 1];
    return last && last.undo && last.counts ? [last.revision] : null;
  }

  nudge(dx, dy) {
    const panel = this.panel(this.only());
    if (!panel) { say("Pick a panel first: Tab."); return; }
    panel.ring = this.handle === null
      ? panel.ring.map(([x, y]) => [x + dx, y + dy])
      : moveHandle(panel.ring, this.handle, dx, dy);
    this.sheet.moved(panel.key, panel.ring);
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.setOutline(panel.key, panel.ring, false), SETTLE_MS);
  }

  async setOutline(key, ring, snap) {
    let outline = ring;
    if (snap) outline = await this.snapped(ring);
    return this.change([{ kind: "set-outline", panel: key, outline }], "Outline saved.");
  }

  async snapped(ring) {
    try {
      const reach = 10 * this.sheet.grain();
      const answer = await post(`/api/page/${encodeURIComponent(this.page.id)}/snap`,
        { ring, reach });
      return answer.ring;
    } catch {
      return ring;
    }
  }

  async add(ring, snap = true) {
    const [x0, y0, x1, y1] = bounds(ring);
    if (Math.min(x1 - x0, y1 - y0) < 8 * this.sheet.grain()) return;
    const outline = snap ? await this.snapped(ring) : ring;
    await this.change([{ kind: "add-panel", outline }], "Panel added.");
    this.pick(this.page.panels.map((p) => p.key).find((k) => k === `n${this.page.revision}`));
  }

  async propose(point) {
    const answer = await post(`/api/page/${encodeURIComponent(this.page.id)}/propose`,
      { x: point[0], y: point[1] });
    if (!answer.ring) { say("No frame was found around that point. Pull out a box instead."); return; }
    await this.add(answer.ring, false);
  }

  join() {
    const keys = [...this.picked];
    if (keys.length < 2) { this.setMode("join"); return; }
    this.change([{ kind: "merge-panels", panels: keys }], "Panels joined.");
  }

  remove() {
    if (!this.picked.size) { say("Pick a panel first: Tab."); return; }
    this.change([...this.picked].map((panel) => ({ kind: "delete-panel", panel })), "Deleted.");
  }

  markSide(state) {
    const panel = this.panel(this.only());
    if (!panel || this.handle === null || Number.isInteger(this.handle)) {
      say("Pick a side first: Tab to a panel, then the full stop key to a side.");
      return;
    }
    const side = Math.floor(this.handle);
    const now = panel.sides[side] === state ? "drawn" : state;
    this.change([{ kind: "side-state", panel: panel.key, side, state: now }], `Side: ${now}.`);
  }

  turnDirection() {
    const direction = this.page.direction === "ltr" ? "rtl" : "ltr";
    this.change([{ kind: "direction", direction }],
      direction === "rtl" ? "Read right to left." : "Read left to right.");
  }

  reorder(order) {
    if (order.length < 1) return;
    const rest = this.page.panels.map((p) => p.key).filter((k) => !order.includes(k));
    this.change([{ kind: "reorder", order: [...order, ...rest] }], "Order saved.");
  }

  useReading(index) {
    const reading = this.page.readings[index];
    if (!reading) { say("There is no other reading of this page."); return; }
    const changes = this.page.panels.map((p) => ({ kind: "delete-panel", panel: p.key }));
    reading.panels.forEach((outline) => changes.push({ kind: "add-panel", outline }));
    this.change(changes, "The other reading was taken.");
  }

  async fine() {
    await this.change([{ kind: "page-is-fine" }], "Called fine.");
    this.go(1);
  }

  go(step) {
    const next = this.shelf.neighbour(this.page.id, step);
    if (next) location.hash = `page/${next}`;
    else say(step > 0 ? "That was the last page." : "That is the first page.");
  }

  async label(name, value) {
    try {
      this.taken(await post(`/api/page/${encodeURIComponent(this.page.id)}/labels`,
        { labels: { [name]: value } }));
      say("Label saved.");
    } catch (error) {
      say(error.message, 12000);
    }
  }

  listen() {
    const root = this.sheet.root;
    root.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.sheet.zoom(Math.exp(-event.deltaY * 0.0015), this.sheet.at(event));
    }, { passive: false });
    root.addEventListener("pointerdown", (event) => this.down(event));
    root.addEventListener("pointermove", (event) => this.move(event));
    root.addEventListener("pointerup", (event) => this.up(event));
    root.addEventListener("pointercancel", (event) => this.up(event));
  }

  down(event) {
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    this.sheet.root.setPointerCapture(event.pointerId);
    if (this.pointers.size === 2) { this.mode.cancel?.(); this.pinch = this.spread(); return; }
    this.mode.down(this.sheet.at(event), event);
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    this.pointers.set(event.pointerId, now);
    if (this.pointers.size === 2) { this.pinching(); return; }
    const grain = this.sheet.grain();
    this.mode.move(this.sheet.at(event), event,
      [(now[0] - before[0]) * grain, (now[1] - before[1]) * grain]);
  }

  up(event) {
    const two = this.pointers.size === 2;
    this.pointers.delete(event.pointerId);
    if (!two) this.mode.up(this.sheet.at(event), event);
  }

  spread() {
    const [a, b] = [...this.pointers.values()];
    return { size: Math.hypot(a[0] - b[0], a[1] - b[1]), x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2 };
  }

  pinching() {
    const now = this.spread();
    const about = this.sheet.at({ clientX: now.x, clientY: now.y });
    this.sheet.zoom(now.size / Math.max(this.pinch.size, 1), about);
    const grain = this.sheet.grain();
    this.sheet.pan((now.x - this.pinch.x) * grain, (now.y - this.pinch.y) * grain);
    this.pinch = now;
  }
}

function numbers(after, upTo) {
  return Array.from({ length: upTo - after }, (_, i) => after + i + 1);
}

function boxesOf(page) {
  const [fx0, fy0, fx1, fy1] = bounds(page.frame);
  return page.panels.map((p) => {
    const [x0, y0, x1, y1] = bounds(p.ring);
    const share = (v, from, to) => Math.round((1000 * (v - from)) / (to - from));
    return [share(x0, fx0, fx1), share(y0, fy0, fy1), share(x1, fx0, fx1), share(y1, fy0, fy1)];
  });
}

// Panels in each tier, as far as the shelf's sieve needs it: by overlap of their heights.
function tiersOf(page) {
  const spans = page.panels.map((p) => bounds(p.ring)).sort((a, b) => a[1] - b[1]);
  const tiers = [];
  for (const [, top, , bottom] of spans) {
    const last = tiers[tiers.length - 1];
    if (last && Math.min(last.bottom, bottom) - top > 0.5 * (bottom - top)) last.count += 1;
    else tiers.push({ bottom, count: 1 });
  }
  return tiers.map((t) => t.count).join("-");
}
