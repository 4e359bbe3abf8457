// The shelf: all pages as small cards; only what is seen is in the document.

import { get } from "./api.js";
import { el, say, svg } from "./dom.js";

const CARD_W = 156, CARD_H = 236, TITLE_H = 34, AHEAD = 2;
const [ID, BOOK, NUMBER, DOUBT, GOOD, ASPECT, TIERS, BOXES] = [0, 1, 2, 3, 4, 5, 6, 7];

export class Shelf {
  constructor(place, open) {
    this.place = place;
    this.open = open;
    this.books = [];
    this.all = [];
    this.shown = [];
    this.sort = "doubt";
    this.least = 0;
    this.asked = { where: "", grid: "", label: "", value: "" };
    this.labels = {};
    this.drawn = new Map();
  }

  async load() {
    const data = await get(`/api/shelf?${new URLSearchParams(this.asked)}`);
    this.books = data.books;
    this.all = data.pages;
    this.labels = data.labels;
    this.sift();
  }

  // Pages as the filter and order on screen leave them, in the order shown.
  sift() {
    this.shown = this.all.filter((p) => p[DOUBT] >= this.least);
    const doubtful = (a, b) => b[DOUBT] - a[DOUBT] || a[BOOK] - b[BOOK] || a[NUMBER] - b[NUMBER];
    const orders = {
      doubt: doubtful,
      book: (a, b) => a[BOOK] - b[BOOK] || a[NUMBER] - b[NUMBER],
      bookdoubt: (a, b) => a[BOOK] - b[BOOK] || doubtful(a, b),
    };
    this.shown.sort(orders[this.sort]);
    if (this.list) this.layOut();
  }

  neighbour(id, step) {
    const at = this.shown.findIndex((p) => p[ID] === id);
    const next = this.shown[at + step];
    return next ? next[ID] : null;
  }

  mark(id, doubt, good, tiers, boxes) {
    const page = this.all.find((p) => p[ID] === id);
    if (!page) return;
    page[DOUBT] = doubt;
    page[GOOD] = good;
    page[TIERS] = tiers;
    page[BOXES] = boxes;
  }

  show() {
    this.list = el("div", { class: "rows", tabindex: 0, role: "region", "aria-label": "Pages" });
    this.tall = el("div", { class: "tall" });
    this.list.append(this.tall);
    this.list.addEventListener("scroll", () => this.draw(), { passive: true });
    this.place.replaceChildren(el("div", { class: "shelf" }, this.sieve(), this.list));
    this.watcher = new ResizeObserver(() => this.layOut());
    this.watcher.observe(this.list);
    this.layOut();
  }

  sieve() {
    const order = el("select", { id: "order", onchange: () => {
      this.sort = order.value;
      this.sift();
    } },
    el("option", { value: "doubt" }, "most doubtful first"),
    el("option", { value: "bookdoubt" }, "by book, most doubtful first"),
    el("option", { value: "book" }, "by book and page"));
    order.value = this.sort;
    const told = el("output", { for: "least" }, `${this.least} %`);
    const least = el("input", { type: "range", min: 0, max: 100, id: "least", oninput: () => {
      this.least = Number(least.value);
      told.textContent = `${this.least} %`;
      this.sift();
    } });
    least.value = this.least;
    const grid = this.words("grid", "two then any then one");
    const where = this.words("where", "panel_count >= 5");
    const label = el("select", { id: "label", onchange: () => {
      [this.asked.label, this.asked.value] = JSON.parse(label.value);
      this.again();
    } }, ...this.labelChoices());
    label.value = JSON.stringify([this.asked.label, this.asked.value]);
    return el("form", { class: "sieve", onsubmit: (event) => { event.preventDefault(); this.again(); } },
      el("label", {}, "Order", order),
      el("details", { open: matchMedia("(min-width: 760px)").matches },
        el("summary", {}, "Which pages"),
        el("div", { class: "choices" },
          el("label", {}, el("span", {}, "At least this doubtful: ", told), least),
          el("label", {}, "Label", label),
          el("label", {}, "Grid", grid),
          el("label", {}, "Pages where", where),
          el("button", { type: "submit", id: "sift" }, "Show"))),
      this.count = el("span", { role: "status" }));
  }

  words(name, example) {
    const input = el("input", { type: "text", id: name, placeholder: example,
      oninput: () => { this.asked[name] = input.value; } });
    input.value = this.asked[name];
    return input;
  }

  labelChoices() {
    const choice = (name, value) => el("option", { value: JSON.stringify([name, value]) },
      name ? `${name}: ${value}` : "any");
    const all = Object.entries(this.labels).flatMap(([name, values]) =>
      values.map((value) => choice(name, value)));
    return [choice("", ""), ...all];
  }

  async again() {
    try {
      await this.load();
    } catch (error) {
      say(error.message, 12000);
    }
  }

  // Places of titles and cards, top to bottom; cards of a book stand together by book order.
  layOut() {
    const width = Math.max(this.list.clientWidth - 16, CARD_W);
    const across = Math.max(1, Math.floor(width / CARD_W));
    this.spots = [];
    let top = 0, column = 0, book = null;
    for (const page of this.shown) {
      if (this.sort !== "doubt" && page[BOOK] !== book) {
        if (column) { top += CARD_H; column = 0; }
        book = page[BOOK];
        this.spots.push({ top, left: 0, title: this.books[book], height: TITLE_H });
        top += TITLE_H;
      }
      this.spots.push({ top, left: 12 + column * CARD_W, page, height: CARD_H });
      if (++column === across) { column = 0; top += CARD_H; }
    }
    if (column) top += CARD_H;
    this.tall.style.height = `${top + 20}px`;
    if (this.count) this.count.textContent = `${this.shown.length} of ${this.all.length} pages`;
    for (const node of this.drawn.values()) node.remove();
    this.drawn.clear();
    this.draw();
  }

  draw() {
    const from = this.list.scrollTop - AHEAD * CARD_H;
    const to = this.list.scrollTop + this.list.clientHeight + AHEAD * CARD_H;
    const first = this.firstAt(from);
    const wanted = new Set();
    for (let i = first; i < this.spots.length && this.spots[i].top < to; i++) {
      wanted.add(i);
      if (!this.drawn.has(i)) {
        const node = this.spots[i].title ? this.title(this.spots[i]) : this.card(this.spots[i]);
        this.drawn.set(i, node);
        this.tall.append(node);
      }
    }
    for (const [i, node] of this.drawn) {
      if (!wanted.has(i)) { node.remove(); this.drawn.delete(i); }
    }
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

  title(spot) {
    const node = el("div", { class: "booktitle" }, spot.title);
    node.style.top = `${spot.top + 6}px`;
    return node;
  }

  card(spot) {
    const page = spot.page;
    const state = page[GOOD] ? "good" : page[DOUBT] >= 20 ? "doubt" : "sure";
    const words = page[GOOD] ? "looked over" : `${page[DOUBT]} % doubt`;
    const name = `${this.books[page[BOOK]]}, page ${page[NUMBER]}`;
    const node = el("button", {
      type: "button", class: "card", "data-page": page[ID], "data-state": state,
      "aria-label": `${name}: ${page[BOXES].length} panels, ${words}`,
      onclick: () => this.open(page[ID]),
    },
      el("span", { class: "sheet" },
        el("img", { src: `/small/${page[ID]}`, alt: "", loading: "lazy", decoding: "async" }),
        this.grid(page)),
      el("span", { class: "name" }, name),
      el("span", { class: "doubt" }, words));
    node.style.top = `${spot.top}px`;
    node.style.left = `${spot.left}px`;
    return node;
  }

  grid(page) {
    const width = 1000 * page[ASPECT];
    const rects = page[BOXES].map(([x0, y0, x1, y1]) =>
      svg("rect", { x: x0 * page[ASPECT], y: y0, width: (x1 - x0) * page[ASPECT],
        height: y1 - y0, fill: "none", stroke: "#1c5b7c", "stroke-width": 12 }));
    return svg("svg", { viewBox: `0 0 ${width} 1000`, "aria-hidden": "true" }, ...rects);
  }

  leave() {
    if (this.watcher) this.watcher.disconnect();
    this.list = null;
    this.drawn.clear();
  }
}
