// The shelf: all pages as small cards; only what is seen is in the document.

import { get } from "./api.js";
import { BOOK, BOXES, Card, CHANGED, DOUBT, GOOD, ID, NUMBER, TIERS } from "./card.js";
import { el, say } from "./dom.js";
import { sieve } from "./sieve.js";

const CARD_W = 156, CARD_H = 236, TITLE_H = 38, EDGE = 12, AHEAD = 1.5;
const STILL_MS = 90, SLOW_PX = 45; // a frame

export class Shelf {
  constructor(place, open) {
    this.place = place;
    this.open = open;
    this.books = [];
    this.all = [];
    this.shown = [];
    this.spots = [];
    this.sort = "bookdoubt";
    this.least = 0;
    this.asked = { where: "", grid: "", label: "", value: "" };
    this.labels = {};
    this.drawn = new Map(); // place among the spots -> card or title
    this.free = []; // cards that are out of sight
    this.current = null; // id of the page that the keyboard stands on
    this.scrolled = 0;
  }

  async load(early = null) {
    const data = await (early || get(`/api/shelf?${new URLSearchParams(this.asked)}`));
    this.books = data.books;
    this.all = data.pages;
    this.labels = data.labels;
    this.sift();
  }

  // Pages as the filter and order on screen leave them, in the order shown.
  sift() {
    this.shown = this.all.filter((p) => p[DOUBT] >= this.least);
    const doubtful = (a, b) => b[DOUBT] - a[DOUBT] || a[BOOK] - b[BOOK] || a[NUMBER] - b[NUMBER];
    const most = this.mostDoubtful();
    const books = (a, b) => most[b[BOOK]] - most[a[BOOK]] || a[BOOK] - b[BOOK];
    const orders = {
      doubt: doubtful,
      book: (a, b) => a[BOOK] - b[BOOK] || a[NUMBER] - b[NUMBER],
      bookdoubt: (a, b) => books(a, b) || doubtful(a, b),
    };
    this.shown.sort(orders[this.sort]);
    if (this.list) this.layOut();
  }

  // Doubt of each book's most doubtful page.
  mostDoubtful() {
    const most = this.books.map(() => 0);
    for (const page of this.shown) most[page[BOOK]] = Math.max(most[page[BOOK]], page[DOUBT]);
    return most;
  }

  neighbour(id, step) {
    const at = this.shown.findIndex((p) => p[ID] === id);
    const next = this.shown[at + step];
    return next ? next[ID] : null;
  }

  mark(id, doubt, good, tiers, boxes, revision) {
    const page = this.all.find((p) => p[ID] === id);
    if (!page) return;
    page[DOUBT] = doubt;
    page[GOOD] = good;
    page[TIERS] = tiers;
    page[BOXES] = boxes;
    page[CHANGED] = revision;
  }

  show() {
    this.leave();
    this.tall = el("div", { class: "tall" });
    this.none = el("p", { class: "none", hidden: true });
    this.list = el("div", { class: "rows", role: "region", "aria-label": "Pages" }, this.none,
      this.tall);
    this.list.addEventListener("scroll", () => this.moved(), { passive: true });
    this.list.addEventListener("keydown", (event) => this.walk(event));
    this.list.addEventListener("focusin", (event) => this.stand(event.target.shelfCard));
    this.place.replaceChildren(el("div", { class: "shelf" }, sieve(this), this.list));
    const stood = this.scrolled;
    this.size();
    this.layOut();
    this.list.scrollTop = stood;
    this.draw();
    this.watcher = new ResizeObserver(() => { if (this.size()) this.layOut(); });
    this.watcher.observe(this.list);
  }

  async again() {
    try {
      await this.load();
    } catch (error) {
      say(error.message, 12000);
    }
  }

  // Read once here, since asking for it while cards move would make the browser lay out anew.
  size() {
    const [wide, high] = [this.list.clientWidth, this.list.clientHeight];
    const changed = wide !== this.wide || high !== this.high;
    [this.wide, this.high] = [wide, high];
    return changed;
  }

  // Places of titles and cards, top to bottom; cards of a book stand together by book order.
  layOut() {
    this.across = Math.max(1, Math.floor((this.wide - EDGE) / CARD_W));
    this.inset = Math.max(EDGE, Math.floor((this.wide - this.across * CARD_W) / 2));
    this.spots = [];
    let top = 6, column = 0, book = null;
    for (const page of this.shown) {
      if (this.sort !== "doubt" && page[BOOK] !== book) {
        if (column) { top += CARD_H; column = 0; }
        book = page[BOOK];
        this.spots.push({ top, title: this.books[book], height: TITLE_H });
        top += TITLE_H;
      }
      this.spots.push({ top, left: this.inset + column * CARD_W, page, height: CARD_H });
      if (++column === this.across) { column = 0; top += CARD_H; }
    }
    if (column) top += CARD_H;
    this.tall.style.height = `${top + 20}px`;
    if (this.count) this.count.textContent = `${this.shown.length} of ${this.all.length} pages`;
    this.none.hidden = this.shown.length > 0;
    this.none.textContent = this.all.length || this.isSifted()
      ? "No page is like that. Ask for less above."
      : "This library holds no pages yet: panelscan scan brings them in.";
    const held = document.activeElement?.shelfCard?.page;
    for (const i of [...this.drawn.keys()]) this.putAside(i);
    this.draw();
    if (held) this.focusOn(held);
  }

  isSifted() { return Object.values(this.asked).some((value) => value !== ""); }

  // Many scroll events may come in one frame; the shelf is drawn once.
  moved() {
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => {
      this.due = false;
      if (this.list) this.draw();
    });
  }

  draw() {
    const top = this.list.scrollTop;
    this.speed = Math.abs(top - this.scrolled);
    this.scrolled = top;
    const from = top - AHEAD * CARD_H, to = top + this.high + AHEAD * CARD_H;
    const first = this.firstAt(from);
    let end = first;
    while (end < this.spots.length && this.spots[end].top < to) end++;
    for (const i of [...this.drawn.keys()]) {
      const stood = this.drawn.get(i).root === document.activeElement;
      if ((i < first || i >= end) && !stood) this.putAside(i);
    }
    for (let i = first; i < end; i++) if (!this.drawn.has(i)) this.drawn.set(i, this.put(i));
    for (const card of this.free) card.root.hidden = true;
    this.reach();
    this.picturesSoon();
  }

  firstAt(y) {
    let low = 0, high = this.spots.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.spots[middle].top + this.spots[middle].height < y) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  put(i) {
    const spot = this.spots[i];
    if (spot.title) {
      const node = el("div", { class: "booktitle" }, spot.title);
      node.style.transform = `translate(${this.inset + 4}px, ${spot.top + 8}px)`;
      this.tall.append(node);
      return { root: node };
    }
    const same = this.free.findIndex((c) => c.page[ID] === spot.page[ID]);
    const card = same < 0 ? this.free.pop() || this.newCard() : this.free.splice(same, 1)[0];
    const named = this.sort === "doubt" && this.books.length > 1;
    card.fill(spot.page, this.books[spot.page[BOOK]], named, spot.left, spot.top);
    card.root.hidden = false;
    return card;
  }

  newCard() {
    const card = new Card(this.open);
    this.tall.append(card.root);
    return card;
  }

  // A card out of sight is kept for the next page that comes in; a title is cheap.
  putAside(i) {
    const drawn = this.drawn.get(i);
    this.drawn.delete(i);
    if (drawn.page) this.free.push(drawn);
    else drawn.root.remove();
  }

  // Pictures are asked for once the shelf moves slowly: what flies past shows its grid alone.
  picturesSoon() {
    clearTimeout(this.still);
    if (this.speed < SLOW_PX) this.pictures();
    else this.still = setTimeout(() => this.pictures(), STILL_MS);
  }

  pictures() {
    if (!this.list) return;
    const seen = [], beyond = [];
    for (const [i, drawn] of this.drawn) {
      if (drawn.page) (this.isSeen(i) ? seen : beyond).push(drawn);
    }
    for (const card of [...seen, ...beyond]) card.show();
  }

  isSeen(i) {
    const { top, height } = this.spots[i];
    return top + height > this.scrolled && top < this.scrolled + this.high;
  }

  // The keyboard: one card at a time can be reached by Tab, arrows walk on from it.
  reach() {
    let at = null;
    for (const [i, drawn] of this.drawn) {
      if (!drawn.page) continue;
      if (drawn.page[ID] === this.current) { at = drawn; break; }
      if (!at && this.spots[i].top >= this.scrolled) at = drawn;
    }
    if (at === this.reached) return;
    if (this.reached) this.reached.root.tabIndex = -1;
    if (at) at.root.tabIndex = 0;
    this.reached = at;
  }

  stand(card) {
    if (!card) return;
    this.current = card.page[ID];
    this.reach();
  }

  walk(event) {
    const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -this.across, ArrowDown: this.across,
      PageUp: -this.across * 3, PageDown: this.across * 3, Home: -Infinity, End: Infinity };
    const step = steps[event.key], card = event.target.shelfCard;
    if (step === undefined || !card || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const at = this.shown.indexOf(card.page);
    this.goTo(Math.min(Math.max(at + step, 0), this.shown.length - 1));
  }

  goTo(at) {
    const page = this.shown[at], spot = this.spots.find((s) => s.page === page);
    if (spot.top < this.list.scrollTop) this.list.scrollTop = spot.top - 6;
    const low = spot.top + spot.height - this.high;
    if (low > this.list.scrollTop) this.list.scrollTop = low + 6;
    this.current = page[ID];
    this.draw();
    this.focusOn(page);
  }

  focusOn(page) {
    for (const drawn of this.drawn.values()) {
      if (drawn.page === page) drawn.root.focus({ preventScroll: true });
    }
  }

  leave() {
    if (this.watcher) this.watcher.disconnect();
    clearTimeout(this.still);
    this.list = null;
    this.drawn.clear();
    this.free = [];
    this.reached = null;
  }
}
