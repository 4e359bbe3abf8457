// One card of the shelf: made once, filled again for page after page as the shelf is moved.

import { el, svg } from "./dom.js";

export const [ID, BOOK, NUMBER, DOUBT, GOOD, ASPECT, TIERS, BOXES, CHANGED] =
  [0, 1, 2, 3, 4, 5, 6, 7, 8];
export const DOUBTFUL = 20;

export class Card {
  constructor(open) {
    this.page = null;
    this.image = el("img", { alt: "", decoding: "async", draggable: "false" });
    this.lines = svg("path", {});
    this.grid = svg("svg", { "aria-hidden": "true" }, this.lines);
    this.number = el("span", { class: "number" });
    this.words = el("span", { class: "words" });
    this.book = el("span", { class: "book" });
    this.strip = el("span", { class: "strip" }, el("i", {}));
    this.root = el("button", { type: "button", class: "card", tabindex: -1,
      onclick: () => open(this.page[ID]) },
    el("span", { class: "sheet" }, this.image, this.grid), this.strip, this.number, this.book,
    this.words);
    this.root.shelfCard = this;
  }

  // Everything but the picture, which waits until the shelf stands still.
  fill(page, book, namesBook, left, top) {
    if (this.page !== page || this.changed !== page[CHANGED]) {
      this.image.removeAttribute("src");
      this.image.hidden = true;
    }
    this.page = page;
    this.changed = page[CHANGED];
    const doubt = page[DOUBT], words = page[GOOD] ? "looked over" : `${doubt} % doubt`;
    const state = page[GOOD] ? "good" : doubt >= DOUBTFUL ? "doubt" : "sure";
    this.root.dataset.page = page[ID];
    this.root.dataset.state = state;
    this.root.setAttribute("aria-label",
      `${book}, page ${page[NUMBER]}: ${page[BOXES].length} panels, ${words}`);
    this.root.style.transform = `translate(${left}px, ${top}px)`;
    this.number.textContent = `page ${page[NUMBER]}`;
    this.words.textContent = words;
    this.book.textContent = namesBook ? book : "";
    this.strip.firstChild.style.transform = `scaleX(${page[GOOD] ? 1 : doubt / 100})`;
    this.grid.setAttribute("viewBox", `0 0 ${Math.round(1000 * page[ASPECT])} 1000`);
    this.lines.setAttribute("d", outlineOf(page));
  }

  // Decoded before it is put in, so that no frame waits for it.
  show() {
    const { image, page } = this;
    if (image.hasAttribute("src")) return;
    // The picture is cut along the page's edge, which a person may have moved.
    image.src = `/small/${page[ID]}${page[CHANGED] ? `?as-of=${page[CHANGED]}` : ""}`;
    image.decode().then(() => { if (this.page === page) image.hidden = false; }, () => {});
  }
}

// All panels as one path.
function outlineOf(page) {
  const wide = page[ASPECT];
  return page[BOXES].map(([x0, y0, x1, y1]) => {
    const left = Math.round(x0 * wide), across = Math.round((x1 - x0) * wide);
    return `M${left} ${y0}h${across}v${y1 - y0}h${-across}z`;
  }).join("");
}
