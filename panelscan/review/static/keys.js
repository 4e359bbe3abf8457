// Every action by keyboard; the list shown on ? is made from this one.

import { el } from "./dom.js";

const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export const KEYS = [
  ["arrows, Enter", "on the shelf: walk from page to page, open one"],
  ["Tab, Shift+Tab", "next, previous panel (with the page in focus)"],
  [". and ,", "next, previous corner or side of the picked panel"],
  ["arrows", "on a page: move the picked corner, side or panel by a pixel; with Shift by ten"],
  ["Alt while dragging", "leave the corner or side where you put it: no snapping"],
  ["a", "pull out a panel"],
  ["w", "click inside a frame that was missed"],
  ["c", "cut the picked panel in two; r turns the line"],
  ["j", "join panels"],
  ["Delete", "delete the picked panel"],
  ["o", "set the order by a stroke, or Space on each panel in turn"],
  ["d", "turn the reading direction"],
  ["b", "mark the picked side as bleed"],
  ["i", "mark the picked side as inferred"],
  ["e", "set the page's edge"],
  ["f", "set the fold of a spread"],
  ["m", "take the other reading"],
  ["z, Shift+z", "take back, bring back"],
  ["g", "this page is fine, next"],
  ["n, p", "next, previous page"],
  ["l", "pages like this one"],
  ["t", "write the grid as a template"],
  ["k", "look the page over before inking"],
  ["+, -, 0", "closer, farther, whole page"],
  ["Enter, Escape", "finish, leave what you are doing; Escape again: back to the shelf"],
  ["?", "this list"],
];

export function fillKeyTable() {
  document.querySelector("#key-table tbody").replaceChildren(...KEYS.map(([key, words]) =>
    el("tr", {}, el("td", {}, el("kbd", {}, key)), el("td", {}, words))));
}

export function onDeskKey(desk, event) {
  if (event.ctrlKey || event.metaKey) {
    if (event.key.toLowerCase() === "z") { act(event, () => step(desk, event.shiftKey)); }
    return;
  }
  if (event.altKey) return;
  const inSheet = document.activeElement === desk.sheet.root;
  if (event.key === "Tab") {
    // Tab walks panels only while the page itself has the focus and a panel is left to walk to.
    if (inSheet && walks(desk, event.shiftKey)) act(event, () => desk.pickNext(event.shiftKey ? -1 : 1));
    return;
  }
  if (arrows[event.key]) { if (inSheet) act(event, () => arrow(desk, event)); return; }
  const deed = DEEDS[event.key];
  if (deed && !(needsSheet.has(event.key) && !inSheet)) act(event, () => deed(desk));
}

const needsSheet = new Set(["Enter", " "]);

// The walk ends after the last panel, so that the keyboard is never caught in the page.
function walks(desk, back) {
  const keys = desk.page.panels.map((p) => p.key);
  if (desk.mode.name !== "pick") return keys.length > 0;
  const at = keys.indexOf([...desk.picked].pop());
  return back ? at > 0 : at < keys.length - 1;
}

function act(event, deed) {
  event.preventDefault();
  deed();
}

function step(desk, forward) { if (forward) desk.redo(); else desk.undo(); }

function arrow(desk, event) {
  const size = (event.shiftKey ? 10 : 1) * Math.max(1, Math.round(desk.sheet.grain()));
  const [x, y] = arrows[event.key];
  if (desk.mode.arrow) desk.mode.arrow(x * size * 4, y * size * 4, event.shiftKey);
  else desk.nudge(x * size, y * size);
}

const DEEDS = {
  a: (d) => d.setMode("box"),
  w: (d) => d.setMode("within"),
  c: (d) => d.setMode("cut"),
  j: (d) => d.join(),
  o: (d) => d.setMode("stroke"),
  e: (d) => d.setMode("frame"),
  f: (d) => d.setMode("fold"),
  d: (d) => d.turnDirection(),
  b: (d) => d.markSide("bleed"),
  i: (d) => d.markSide("inferred"),
  m: (d) => d.useReading(0),
  r: (d) => d.mode.turn?.(),
  z: (d) => d.undo(),
  Z: (d) => d.redo(),
  g: (d) => d.fine(),
  n: (d) => d.go(1),
  p: (d) => d.go(-1),
  l: (d) => d.alike(),
  t: (d) => d.template(),
  k: (d) => d.check(),
  "+": (d) => d.sheet.zoom(1.25),
  "=": (d) => d.sheet.zoom(1.25),
  "-": (d) => d.sheet.zoom(0.8),
  0: (d) => d.sheet.whole(),
  ".": (d) => (d.mode.next ? d.mode.next() : d.pickHandle(1)),
  ",": (d) => d.pickHandle(-1),
  Delete: (d) => (d.mode.remove ? d.mode.remove() : d.remove()),
  Backspace: (d) => (d.mode.remove ? d.mode.remove() : d.remove()),
  Enter: (d) => d.mode.enter?.(),
  " ": (d) => d.mode.space?.(),
  Escape: (d) => {
    if (d.mode.name !== "pick") d.setMode("pick");
    else if (d.picked.size) d.pick(null);
    else location.hash = "";
  },
};
