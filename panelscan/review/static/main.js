// Which view is shown, by the address's hash; the top line; the key list.

import { get } from "./api.js";
import { say } from "./dom.js";
import { Desk } from "./desk.js";
import { Shelf } from "./shelf.js";
import { fillKeyTable, onDeskKey } from "./keys.js";
import { addReuse, loadChoices } from "./reuse.js";

const early = get("/api/shelf"); // under way while the rest is made
early.catch(() => {}); // told below

const place = document.getElementById("place");
const top = document.getElementById("how-it-goes");
const keys = document.getElementById("keys");

const shelf = new Shelf(place, (id) => { location.hash = `page/${id}`; });
addReuse(Desk);
const desk = new Desk(place, shelf, tellProgress);

async function tellProgress() {
  try {
    const p = await get("/api/progress");
    const parts = [`${p.reviewed} of ${p.pages} pages looked over`];
    if (p.right_at_first_sight !== null) {
      parts.push(`${Math.round(100 * p.right_at_first_sight)} % of those right at first sight`);
    }
    if (p.seconds_left !== null && p.reviewed < p.pages) {
      parts.push(`about ${span(p.seconds_left)} left at this pace (${span(p.seconds_a_page)} a page)`);
    }
    top.textContent = parts.join("; ");
  } catch (error) {
    top.textContent = error.message;
  }
}

function span(seconds) {
  if (seconds < 60) return `${Math.max(1, Math.round(seconds))} s`;
  if (seconds < 90 * 60) return `${Math.round(seconds / 60)} min`;
  return `${Math.round(seconds / 3600)} h`;
}

async function route() {
  const [view, id] = location.hash.replace(/^#/, "").split("/");
  try {
    if (view === "page" && id) {
      shelf.leave();
      await desk.open(id);
      document.title = `panelscan: ${desk.page.name}`;
    } else {
      document.title = "panelscan: your pages";
      shelf.show();
      shelf.sift();
    }
  } catch (error) {
    say(error.message, 20000);
  }
}

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input, select, textarea");
  if (keys.open || (typing && event.key !== "Escape")) return;
  if (event.key === "?") { event.preventDefault(); keys.showModal(); return; }
  if (location.hash.startsWith("#page/") && desk.page) onDeskKey(desk, event);
});
document.getElementById("show-keys").addEventListener("click", () => keys.showModal());
document.getElementById("to-shelf").addEventListener("click", () => { location.hash = ""; });

fillKeyTable();
try {
  await Promise.all([shelf.load(early), loadChoices()]);
} catch (error) {
  say(error.message, 20000);
}
// Not before, or a page asked for meanwhile would be opened twice, the second time under the hand.
window.addEventListener("hashchange", route);
await route();
performance.mark("pages shown");
tellProgress();
