// From a page on: pages like it, a template, a look before inking.

import { get, post } from "./api.js";
import { el, say } from "./dom.js";

export function addReuse(Desk) {
  Object.assign(Desk.prototype, {
    async alike() {
      await this.asked(async (path) => {
        const { hits } = await get(`${path}/alike`);
        return el("ul", { id: "answer-alike" }, ...hits.map((hit) =>
          el("li", {}, el("a", { href: `#page/${hit.page_id}` }, hit.name), `: ${hit.reason}`)));
      });
    },

    async template() {
      await this.asked(async (path) => {
        const { file } = await post(`${path}/template`, {});
        return el("p", { id: "answer-template" }, `Written: ${file}`);
      });
    },

    async check() {
      await this.asked(async (path) => {
        const { findings } = await get(`${path}/check`);
        if (!findings.length) return el("p", { id: "answer-check" }, "Nothing stands out.");
        return el("ol", { id: "answer-check" }, ...findings.map((f) =>
          el("li", {}, `${f.text} ${f.remedy}`)));
      });
    },

    async asked(ask) {
      try {
        this.answer = await ask(`/api/page/${encodeURIComponent(this.page.id)}`);
        this.draw();
      } catch (error) {
        say(error.message, 12000);
      }
    },
  });
}
