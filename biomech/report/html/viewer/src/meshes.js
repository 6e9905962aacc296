// Geometry of teeth out of the page's data: base64 of 16-bit places in a box and 16-bit corner numbers.
import { BufferAttribute, BufferGeometry } from "three";

export function bytes(text) {
  const raw = atob(text);
  const out = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
  return out.buffer;
}

// `mesh`: {low, step, vertices, triangles}, anatomical coordinates; `signs` turn them into the tooth's axes.
export function toothGeometry(mesh, signs) {
  const places = new Uint16Array(bytes(mesh.vertices));
  const corners = new Uint16Array(bytes(mesh.triangles));
  const position = new Float32Array(places.length);
  for (let i = 0; i < places.length; i++) position[i] = signs[i % 3] * (mesh.low[i % 3] + places[i] * mesh.step);
  if (signs[0] * signs[1] * signs[2] < 0) {
    for (let i = 0; i < corners.length; i += 3) [corners[i], corners[i + 2]] = [corners[i + 2], corners[i]];
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(position, 3));
  geometry.setIndex(new BufferAttribute(corners, 1));
  geometry.computeVertexNormals();
  return geometry;
}
