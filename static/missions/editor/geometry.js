// Plain geometry on points {x, y} in mm, y away from the reader.

export const distance = (a, b) => Math.hypot(a.x - b.x, a.y - b.y);

export function middle(points) {
  const xs = points.map((p) => p.x), ys = points.map((p) => p.y);
  return { x: (Math.min(...xs) + Math.max(...xs)) / 2, y: (Math.min(...ys) + Math.max(...ys)) / 2 };
}

export function area(points) {
  return points.reduce((sum, p, i) => {
    const q = points[(i + 1) % points.length];
    return sum + p.x * q.y - q.x * p.y;
  }, 0) / 2;
}

export function turned(points, deg, about) {
  const c = Math.cos(deg * Math.PI / 180), s = Math.sin(deg * Math.PI / 180);
  return points.map((p) => ({
    x: about.x + (p.x - about.x) * c - (p.y - about.y) * s,
    y: about.y + (p.x - about.x) * s + (p.y - about.y) * c,
  }));
}

/** The place on an outline nearest to a point, how far it is, and the heading straight into the outline there. */
export function faceNear(outline, point) {
  const sign = area(outline) >= 0 ? 1 : -1;
  let best = null;
  outline.forEach((a, i) => {
    const b = outline[(i + 1) % outline.length];
    const dx = b.x - a.x, dy = b.y - a.y, long = dx * dx + dy * dy;
    if (long < 1e-9) return;
    const t = Math.min(1, Math.max(0, ((point.x - a.x) * dx + (point.y - a.y) * dy) / long));
    const at = { x: a.x + t * dx, y: a.y + t * dy };
    const d = distance(at, point);
    if (!best || d < best.d - 1e-9) best = { ...at, d, heading: Math.atan2(sign * dx, -sign * dy) * 180 / Math.PI };
  });
  return best;
}

/** Snap one coordinate: to a line within reach first, else to the grid. */
export function snapped(value, lines, reach, grid) {
  let best = null;
  for (const line of lines) {
    const d = Math.abs(line - value);
    if (d <= reach && (best === null || d < Math.abs(best - value))) best = line;
  }
  if (best !== null) return best;
  return grid > 0 ? Math.round(value / grid) * grid : value;
}
