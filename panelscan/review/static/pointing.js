// Mouse, pen and fingers on the page: one pointer works, two zoom and move, the wheel zooms.

import { say } from "./dom.js";

export function listen(desk) {
  const root = desk.sheet.root, down = new Map();
  let pinch = null, ended = false;

  const spread = () => {
    const [a, b] = [...down.values()];
    return { size: Math.hypot(a[0] - b[0], a[1] - b[1]), x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2 };
  };

  root.addEventListener("wheel", (event) => {
    event.preventDefault();
    desk.sheet.zoom(Math.exp(-event.deltaY * 0.0015), desk.sheet.at(event));
  }, { passive: false });

  root.addEventListener("pointerdown", (event) => {
    if (event.button > 0) return;
    down.set(event.pointerId, [event.clientX, event.clientY]);
    root.setPointerCapture(event.pointerId);
    if (down.size === 1) { ended = false; if (desk.mode.hint) say(""); desk.flush(); desk.mode.down(desk.sheet.at(event), event); }
    if (down.size === 2) { desk.mode.cancel?.(); pinch = spread(); ended = true; }
  });

  root.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY], grain = desk.sheet.grain();
    down.set(event.pointerId, now);
    if (down.size === 2) {
      const next = spread();
      desk.sheet.zoom(next.size / Math.max(pinch.size, 1),
        desk.sheet.at({ clientX: next.x, clientY: next.y }));
      const after = desk.sheet.grain();
      desk.sheet.pan((next.x - pinch.x) * after, (next.y - pinch.y) * after);
      pinch = next;
    } else if (!ended) {
      desk.mode.move(desk.sheet.at(event), event,
        [(now[0] - before[0]) * grain, (now[1] - before[1]) * grain]);
    }
  });

  const up = (event) => {
    if (!down.delete(event.pointerId) || ended) return;
    if (event.type === "pointercancel") desk.mode.cancel?.();
    else desk.mode.up(desk.sheet.at(event), event);
  };
  root.addEventListener("pointerup", up);
  root.addEventListener("pointercancel", up);
}
