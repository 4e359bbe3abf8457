// The tray beneath the page: everything that can be done to it, by what it is done to.

import { el } from "./dom.js";

const GROUPS = [
  ["Panels", [
    ["box", "Pull one out", "a", (d) => d.setMode("box")],
    ["within", "Click inside a frame", "w", (d) => d.setMode("within")],
    ["cut", "Cut in two", "c", (d) => d.setMode("cut")],
    ["join", "Join", "j", (d) => d.join()],
    ["delete", "Delete", "Del", (d) => d.remove()],
  ]],
  ["Order", [
    ["stroke", "By a stroke", "o", (d) => d.setMode("stroke")],
    ["direction", "Turn the direction", "d", (d) => d.turnDirection()],
  ]],
  ["Side", [
    ["bleed", "Bleeds", "b", (d) => d.markSide("bleed")],
    ["inferred", "Inferred", "i", (d) => d.markSide("inferred")],
  ]],
  ["Page", [
    ["frame", "Edge", "e", (d) => d.setMode("frame")],
    ["fold", "Fold", "f", (d) => d.setMode("fold")],
  ]],
  ["Steps", [
    ["undo", "Take back", "z", (d) => d.undo()],
    ["redo", "Bring back", "Z", (d) => d.redo()],
  ]],
  ["View", [
    ["closer", "Closer", "+", (d) => d.sheet.zoom(1.25)],
    ["farther", "Farther", "-", (d) => d.sheet.zoom(0.8)],
    ["whole", "Whole page", "0", (d) => d.sheet.whole()],
  ]],
];

export function makeTray(desk) {
  const buttons = new Map();
  const tool = ([name, words, key, act]) => {
    const button = el("button", { type: "button", id: `tool-${name}`, onclick: () => act(desk) },
      `${words} `, el("kbd", {}, key));
    buttons.set(name, button);
    return button;
  };
  const root = el("div", { class: "tray", role: "group", "aria-label": "What can be done" },
    ...GROUPS.map(([title, tools]) => el("div", { role: "group", "aria-label": title },
      el("span", { class: "title", "aria-hidden": "true" }, title), ...tools.map(tool))));
  return { root, draw: () => press(buttons, desk.mode.name) };
}

function press(buttons, now) {
  for (const [name, button] of buttons) {
    if (name === now) button.setAttribute("aria-pressed", "true");
    else button.removeAttribute("aria-pressed");
  }
}
