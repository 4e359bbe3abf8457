// From a page on: pages like it, a template, a look before inking.

import { get, post } from "./api.js";
import { el, say } from "./dom.js";

const choice = { format: "us-print", kind: "ora", formats: [], kinds: [] };

export function addReuse(Desk) {
  Object.assign(Desk.prototype, {
    alike() {
      return this.asked(async () => {
        const { hits, why_empty: none } = await get(this.path("alike"));
        if (!hits.length) return el("p", { id: "answer-alike" }, none);
        return el("ul", { id: "answer-alike", class: "alike" }, ...hits.map((hit) =>
          el("li", {}, el("a", { href: `#page/${hit.page_id}` },
            el("img", { src: `/small/${hit.page_id}`, alt: "" }), el("span", {}, hit.name)),
          el("p", {}, hit.reason || hit.likeness))));
      });
    },

    template() {
      return this.asked(async () => {
        const told = await post(this.path("template"), { format: choice.format, kind: choice.kind });
        return el("div", { id: "answer-template" },
          el("p", {}, `Written: ${told.file} in ${told.folder}.`),
          told.moved.length ? el("details", {}, el("summary", {}, "What cleaning moved"),
            el("ul", {}, ...told.moved.map((line) => el("li", {}, line)))) : null,
          el("details", {}, el("summary", {}, "Notes"),
            el("ul", {}, ...told.notes.map((line) => el("li", {}, line)))));
      });
    },

    check() {
      return this.asked(async () => {
        const { findings, format } = await get(`${this.path("check")}?format=${choice.format}`);
        if (!findings.length) {
          return el("p", { id: "answer-check" }, `Nothing stands out for ${format}.`);
        }
        return el("ol", { id: "answer-check" }, ...findings.map((f) => el("li", {},
          el("button", { type: "button", class: "finding", onclick: () => this.pickAll(f.panels) },
            f.text), el("p", {}, f.remedy))));
      });
    },

    async asked(ask) {
      this.flush();
      await this.waiting;
      const page = this.page.id;
      say("Looking …", 0);
      try {
        const answer = await ask();
        if (page !== this.page.id) return;
        this.answer = answer;
        say("");
        this.draw();
        this.answer.scrollIntoView({ block: "nearest" });
      } catch (error) {
        say(error.message, 12000);
      }
    },
  });
}

export async function loadChoices() {
  Object.assign(choice, await get("/api/formats"));
}

export function reuseTools(desk) {
  const format = el("select", { id: "format", "aria-label": "Page format",
    onchange: () => { choice.format = format.value; } },
  ...choice.formats.map(([name, title]) => el("option", { value: name }, title)));
  format.value = choice.format;
  const kind = el("select", { id: "kind", "aria-label": "Kind of file",
    onchange: () => { choice.kind = kind.value; } },
  ...choice.kinds.map((name) => el("option", { value: name }, name)));
  kind.value = choice.kind;
  const button = (id, words, key, act) => el("button", { type: "button", id, onclick: act },
    `${words} `, el("kbd", {}, key));
  return el("section", {}, el("h2", {}, "Use this grid"),
    el("div", { class: "tools" },
      button("alike", "Pages like this", "l", () => desk.alike()),
      button("check", "Check", "k", () => desk.check()),
      button("template", "As a template", "t", () => desk.template())),
    el("div", { class: "tools" }, format, kind),
    desk.answer || null);
}
