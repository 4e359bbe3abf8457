// Plain geometry of rings (arrays of [x, y], y down), in source pixels.

export function bounds(ring) {
  const xs = ring.map((p) => p[0]), ys = ring.map((p) => p[1]);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

export function middle(ring) {
  let area = 0, x = 0, y = 0;
  ring.forEach(([x0, y0], i) => {
    const [x1, y1] = ring[(i + 1) % ring.length];
    const cross = x0 * y1 - x1 * y0;
    area += cross;
    x += (x0 + x1) * cross;
    y += (y0 + y1) * cross;
  });
  if (Math.abs(area) < 1e-6) return ring[0];
  return [x / (3 * area), y / (3 * area)];
}

export function inside(ring, [x, y]) {
  let hit = false;
  ring.forEach(([x0, y0], i) => {
    const [x1, y1] = ring[(i + 1) % ring.length];
    if (y0 > y !== y1 > y && x < ((x1 - x0) * (y - y0)) / (y1 - y0) + x0) hit = !hit;
  });
  return hit;
}

export function box(x0, y0, x1, y1) {
  const [l, r] = [Math.min(x0, x1), Math.max(x0, x1)];
  const [t, b] = [Math.min(y0, y1), Math.max(y0, y1)];
  return [[l, t], [r, t], [r, b], [l, b]];
}

// A handle is a corner (whole number) or the side after it (half number).
export function moveHandle(ring, handle, dx, dy) {
  const moved = ring.map((p) => [...p]);
  const corner = Math.floor(handle);
  if (Number.isInteger(handle)) {
    moved[corner] = [ring[corner][0] + dx, ring[corner][1] + dy];
    return moved;
  }
  const next = (corner + 1) % ring.length;
  const [ax, ay] = ring[corner], [bx, by] = ring[next];
  const length = Math.hypot(bx - ax, by - ay) || 1;
  const [nx, ny] = [(by - ay) / length, -(bx - ax) / length];
  const along = dx * nx + dy * ny;
  for (const i of [corner, next]) {
    moved[i] = [ring[i][0] + nx * along, ring[i][1] + ny * along];
  }
  return moved;
}

// Where a corner, or the middle of a side, is.
export function spotOf(ring, handle) {
  const [x, y] = ring[Math.floor(handle)];
  if (Number.isInteger(handle)) return [x, y];
  const [u, v] = ring[(Math.floor(handle) + 1) % ring.length];
  return [(x + u) / 2, (y + v) / 2];
}

// The corner (or side, as `like` is) of a ring that is nearest to a spot.
export function nearestHandle(ring, like, [x, y]) {
  const step = like - Math.floor(like);
  const far = ring.map((_, i) => spotOf(ring, i + step)).map(([u, v]) => Math.hypot(u - x, v - y));
  return far.indexOf(Math.min(...far)) + step;
}

// Whether two rings have the same corners, whichever is told first, but for a slack.
export function sameRing(one, other, slack) {
  return one.length === other.length && one.every(([x, y]) =>
    other.some(([u, v]) => Math.abs(x - u) <= slack && Math.abs(y - v) <= slack));
}

export function points(ring) {
  return ring.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");
}

// Order of panels that a stroke runs through, each once, as it is first run through. A corner
// that is only brushed does not count: the stroke must go a good way within.
const BRUSHED = 0.15;

export function touched(panels, stroke) {
  const order = [];
  let held = null, way = 0;
  stroke.forEach((point, i) => {
    // A smaller panel lies on a larger one, so the smallest that holds the point is meant.
    const under = panels.filter((p) => inside(p.ring, point));
    under.sort((a, b) => size(a.ring) - size(b.ring));
    const [x, y] = stroke[Math.max(i - 1, 0)];
    const step = Math.hypot(point[0] - x, point[1] - y);
    if (under[0] !== held) { held = under[0]; way = 0; } else way += step;
    if (!held || order.includes(held.key)) return;
    const [x0, y0, x1, y1] = bounds(held.ring);
    if (way >= BRUSHED * Math.min(x1 - x0, y1 - y0)) order.push(held.key);
  });
  return order;
}

function size(ring) {
  const [x0, y0, x1, y1] = bounds(ring);
  return (x1 - x0) * (y1 - y0);
}
