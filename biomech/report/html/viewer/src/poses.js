// Rigid motions. A pose is {R: 9 numbers by rows, x: 3 numbers}; a screw is (v, w): translation, rotation vector.

const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];

export function apply(R, v) {
  return [0, 3, 6].map((i) => R[i] * v[0] + R[i + 1] * v[1] + R[i + 2] * v[2]);
}

export function point(pose, v) {
  return apply(pose.R, v).map((c, i) => c + pose.x[i]);
}

export function compose(a, b) {
  const R = new Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      R[3 * i + j] = a.R[3 * i] * b.R[j] + a.R[3 * i + 1] * b.R[3 + j] + a.R[3 * i + 2] * b.R[6 + j];
    }
  }
  return { R, x: point(a, b.x) };
}

// Exponential of the screw `factor` times q: R = I + A [w] + B [w]^2, x = (I + B [w] + C [w]^2) v.
export function exponential(q, factor) {
  const v = q.slice(0, 3).map((c) => c * factor);
  const w = q.slice(3).map((c) => c * factor);
  const t2 = w[0] * w[0] + w[1] * w[1] + w[2] * w[2];
  const t = Math.sqrt(t2);
  const small = t < 1e-4;
  const A = small ? 1 - t2 / 6 : Math.sin(t) / t;
  const B = small ? 0.5 - t2 / 24 : (1 - Math.cos(t)) / t2;
  const C = small ? 1 / 6 - t2 / 120 : (t - Math.sin(t)) / (t2 * t);
  const turned = (u, a, b) => {
    const first = cross(w, u);
    const second = cross(w, first);
    return u.map((c, i) => c + a * first[i] + b * second[i]);
  };
  const columns = [[1, 0, 0], [0, 1, 0], [0, 0, 1]].map((e) => turned(e, A, B));
  const R = [0, 1, 2].flatMap((i) => columns.map((column) => column[i]));
  return { R, x: turned(v, B, C) };
}

// Pose of a tooth whose motion q from its start is `factor` times as large.
export function moved(start, q, factor) {
  return compose(start, exponential(q, factor));
}
