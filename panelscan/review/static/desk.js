// The desk: one page, what is picked on it, and every change that can be made to it.

import { get, post } from "./api.js";
import { el, say } from "./dom.js";
import { Sheet } from "./sheet.js";
import { modes } from "./modes.js";
import { bounds, moveHandle, nearestHandle, sameRing, spotOf } from "./geometry.js";
import { listen } from "./pointing.js";
import { toBringBack, toTakeBack } from "./history.js";
import { sidePanel } from "./side.js";
import { makeTray } from "./tray.js";

const SETTLE_MS = 450;
const MEANWHILE = "Another window changed this page meanwhile.";

export class Desk {
  constructor(place, shelf, tellProgress) {
    this.place = place;
    this.shelf = shelf;
    this.tellProgress = tellProgress;
    this.sheet = new Sheet();
    this.picked = new Set();
    this.handle = null;
    this.waiting = Promise.resolve();
    this.turn = 0;
    listen(this);
    window.addEventListener("pagehide", () => this.flush());
  }

  async open(id) {
    const turn = ++this.turn;
    this.flush();
    await this.waiting;
    const page = await get(pathOf(id));
    if (turn !== this.turn) return;
    this.page = page;
    this.answer = null;
    this.picked.clear();
    this.handle = null;
    this.mode = modes.pick(this);
    this.side = el("aside", { class: "side", "aria-label": "What was found on this page" });
    const table = el("div", { class: "table" }, this.sheet.root);
    this.tray = makeTray(this);
    this.place.replaceChildren(el("div", { class: "desk" }, table, this.tray.root, this.side));
    this.sheet.load(this.page);
    this.draw();
    this.sheet.root.focus();
  }

  draw() {
    this.sheet.draw(this.page, this.picked, { handleOf: this.only(), handle: this.handle });
    this.tray.draw();
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

  pickAll(keys) {
    this.picked = new Set(keys);
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
    if (this.mode.hint) say(hintOf(this.mode), 8000);
    this.draw();
    this.sheet.root.focus();
  }

  path(verb = "") { return pathOf(this.page.id, verb); }

  // Changes go to the server one after the other; each is saved before the next is sent.
  // Answers true once saved.
  change(changes, done) {
    return this.sent(() => post(this.path("change"), { revision: this.page.revision, changes }), done);
  }

  sent(ask, done) {
    this.waiting = this.waiting.then(async () => {
      try {
        const page = await ask();
        if (!page) return false;
        this.taken(page);
        if (done) say(done);
        return true;
      } catch (error) {
        await this.refused(error);
        return false;
      }
    });
    return this.waiting;
  }

  // Says so only once the page is drawn as it stands: a second change made on the words must
  // not start from the old page.
  async refused(error) {
    const meanwhile = error.status === 409;
    try {
      this.taken(await get(this.path()));
    } catch (unread) {
      this.draw();
      say(`${meanwhile ? MEANWHILE : error.message} The page could not be read anew: load this ` +
        `window again. ${unread.message}`, 15000);
      return;
    }
    say(meanwhile ? `${MEANWHILE} You see it as it stands now; nothing was overwritten. ` +
      "Make your change once more if it is still wanted." : error.message, 15000);
  }

  taken(page) {
    const held = this.handleSpot();
    this.page = page;
    // A panel that is being moved by keys stays where it was moved to.
    const moving = this.settling && page.panels.find((p) => p.key === this.settling.panel.key);
    if (moving) {
      moving.ring = this.settling.panel.ring;
      this.settling.panel = moving;
    }
    const keys = new Set(page.panels.map((p) => p.key));
    for (const key of [...this.picked]) if (!keys.has(key)) this.picked.delete(key);
    const panel = this.panel(this.only());
    this.handle = panel && held ? nearestHandle(panel.ring, this.handle, held) : null;
    this.shelf.mark(page.id, page.doubt, page.reviewed, page.pattern, boxesOf(page),
      page.revision);
    this.draw();
    this.tellProgress();
  }

  // Where the picked corner or side is, since a ring may begin at another corner later.
  handleSpot() {
    const panel = this.handle === null ? null : this.panel(this.only());
    return panel ? spotOf(panel.ring, this.handle) : null;
  }

  undo() {
    this.flush();
    return this.later(() => toTakeBack(this.page.history), "There is nothing left to take back.",
      "Taken back.");
  }

  redo() {
    this.flush();
    return this.later(() => toBringBack(this.page.history), "There is nothing to bring back.",
      "Brought back.");
  }

  // What is undone is told by the page as it stands when its turn comes.
  later(choose, none, done) {
    this.waiting = this.waiting.then(() => {
      const changes = choose().map((revision) => ({ kind: "undo", revision }));
      if (!changes.length) { say(none); return null; }
      return post(this.path("change"), { revision: this.page.revision, changes });
    }).then((page) => { if (page) { this.taken(page); say(done); } })
      .catch((error) => this.refused(error));
    return this.waiting;
  }

  nudge(dx, dy) {
    const panel = this.panel(this.only());
    if (!panel) { say("Pick a panel first: Tab."); return; }
    panel.ring = this.handle === null
      ? panel.ring.map(([x, y]) => [x + dx, y + dy])
      : moveHandle(panel.ring, this.handle, dx, dy);
    this.sheet.moved(panel.key, panel.ring);
    clearTimeout(this.settling?.timer);
    this.settling = { panel, timer: setTimeout(() => this.flush(), SETTLE_MS) };
  }

  // Save at once what still waits for the next key.
  flush() {
    if (!this.settling) return;
    const { panel, timer } = this.settling;
    clearTimeout(timer);
    this.settling = null;
    this.setOutline(panel.key, panel.ring, null);
  }

  // Only the sides that were moved look for the border beneath; the others lie right already.
  async setOutline(key, ring, moved) {
    const outline = moved ? await this.snapped(ring, moved) : ring;
    return this.change([{ kind: "set-outline", panel: key, outline }], "Outline saved.");
  }

  async snapped(ring, sides = null) {
    try {
      const reach = 10 * this.sheet.grain();
      const answer = await post(this.path("snap"), { ring, reach, sides });
      return answer.ring;
    } catch {
      return ring;
    }
  }

  async add(ring, snap = true) {
    const [x0, y0, x1, y1] = bounds(ring);
    if (Math.min(x1 - x0, y1 - y0) < 8 * this.sheet.grain()) return;
    const outline = snap ? await this.snapped(ring) : ring;
    if (!await this.change([{ kind: "add-panel", outline }], "Panel added.")) return;
    this.picked.clear();
    this.pick(this.page.panels.map((p) => p.key).find((k) => k === `n${this.page.revision}`));
  }

  async propose(point) {
    let answer;
    try {
      answer = await post(this.path("propose"), { x: point[0], y: point[1] });
    } catch (error) { say(error.message, 12000); return; }
    if (!answer.ring) { say("No frame was found around that point. Pull out a box instead."); return; }
    await this.add(answer.ring, false);
  }

  cut(panel, [start, end]) {
    return this.sent(() => post(this.path("cut"), { revision: this.page.revision, panel, start, end }),
      "Cut in two.");
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

  // The order is told by a function of the panels as they stand when its turn comes, since a
  // person draws the stroke before the cut before it has been answered.
  reorder(choose) {
    return this.sent(() => {
      const order = choose(this.page.panels);
      if (!order.length) { say("The stroke runs through no panel."); return null; }
      const rest = this.page.panels.map((p) => p.key).filter((k) => !order.includes(k));
      const changes = [{ kind: "reorder", order: [...order, ...rest] }];
      return post(this.path("change"), { revision: this.page.revision, changes });
    }, "Order saved.");
  }

  // Outlines that differ by less than this are the same panel, told a little otherwise.
  slack() {
    const [, top, , bottom] = bounds(this.page.frame);
    return 0.006 * (bottom - top);
  }

  isKnown(ring) {
    return this.page.panels.some((p) => sameRing(p.ring, ring, this.slack()));
  }

  // Readings that say something else than what stands.
  otherReadings() {
    const { panels, readings } = this.page;
    return readings.filter((r) => r.panels.length && (r.panels.length !== panels.length ||
      r.panels.some((ring) => !this.isKnown(ring))));
  }

  // Panels that both readings share stay, with all that is known of them.
  useReading(index) {
    const reading = this.otherReadings()[index];
    if (!reading) { say("There is no other reading of this page."); return; }
    const slack = this.slack();
    const kept = (ring) => reading.panels.some((other) => sameRing(ring, other, slack));
    const changes = this.page.panels.filter((p) => !kept(p.ring))
      .map((p) => ({ kind: "delete-panel", panel: p.key }));
    reading.panels.filter((ring) => !this.isKnown(ring))
      .forEach((outline) => changes.push({ kind: "add-panel", outline }));
    this.change(changes, "The other reading was taken.");
  }

  async fine() {
    this.flush();
    if (await this.change([{ kind: "page-is-fine" }], "Called fine.")) this.go(1);
  }

  go(step) {
    const next = this.shelf.neighbour(this.page.id, step);
    if (next) location.hash = `page/${next}`;
    else say(step > 0 ? "That was the last page." : "That is the first page.");
  }

  async label(name, value) {
    try {
      this.taken(await post(this.path("labels"), { labels: { [name]: value } }));
      say("Label saved.");
    } catch (error) {
      say(error.message, 12000);
    }
  }
}

// A finger cannot press keys, and hints for it would only hide the page.
function hintOf(mode) {
  const byHand = matchMedia("(pointer: coarse)").matches;
  return byHand || !mode.keys ? mode.hint : `${mode.hint} Keys: ${mode.keys}`;
}

function pathOf(id, verb = "") {
  const path = `/api/page/${encodeURIComponent(id)}`;
  return verb ? `${path}/${verb}` : path;
}

function boxesOf(page) {
  const [fx0, fy0, fx1, fy1] = bounds(page.frame);
  return page.panels.map((p) => {
    const [x0, y0, x1, y1] = bounds(p.ring);
    const share = (v, from, to) => Math.round((1000 * (v - from)) / (to - from));
    return [share(x0, fx0, fx1), share(y0, fy0, fy1), share(x1, fx0, fx1), share(y1, fy0, fy1)];
  });
}
