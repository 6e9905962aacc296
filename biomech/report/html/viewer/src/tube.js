// A wire as a tube of eight sides about a polyline, coloured station by station.
import { BufferAttribute, BufferGeometry } from "three";

const SIDES = 8;

export function tubeGeometry(count) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array(count * SIDES * 3), 3));
  geometry.setAttribute("normal", new BufferAttribute(new Float32Array(count * SIDES * 3), 3));
  geometry.setAttribute("color", new BufferAttribute(new Float32Array(count * SIDES * 3), 3));
  const faces = [];
  for (let i = 0; i + 1 < count; i++) {
    for (let k = 0; k < SIDES; k++) {
      const a = i * SIDES + k;
      const b = i * SIDES + ((k + 1) % SIDES);
      faces.push(a, b, b + SIDES, a, b + SIDES, a + SIDES);
    }
  }
  geometry.setIndex(faces);
  return geometry;
}

const unit = (v) => {
  const size = Math.hypot(...v) || 1;
  return v.map((c) => c / size);
};

export function shapeTube(geometry, points, colours, radius) {
  const position = geometry.getAttribute("position");
  const normal = geometry.getAttribute("normal");
  const colour = geometry.getAttribute("color");
  const last = points.length - 1;
  points.forEach((p, i) => {
    const before = points[Math.max(0, i - 1)];
    const after = points[Math.min(last, i + 1)];
    const t = unit(after.map((c, k) => c - before[k]));
    const side = unit([-t[1], t[0], 0]);
    const up = [t[1] * side[2] - t[2] * side[1], t[2] * side[0] - t[0] * side[2], t[0] * side[1] - t[1] * side[0]];
    for (let k = 0; k < SIDES; k++) {
      const angle = (2 * Math.PI * k) / SIDES;
      const n = side.map((c, j) => c * Math.cos(angle) + up[j] * Math.sin(angle));
      const at = i * SIDES + k;
      position.setXYZ(at, p[0] + radius * n[0], p[1] + radius * n[1], p[2] + radius * n[2]);
      normal.setXYZ(at, n[0], n[1], n[2]);
      colour.setXYZ(at, colours[i].r, colours[i].g, colours[i].b);
    }
  });
  for (const attribute of [position, normal, colour]) attribute.needsUpdate = true;
  geometry.computeBoundingSphere();
}
