// The arch in three dimensions. Data are in the model's axes (left, forward, up), which are left-handed; the outer group
// turns forward into back, so that the arch is not shown as its mirror image.
import {
  AmbientLight, Color, ConeGeometry, CylinderGeometry, DirectionalLight, DoubleSide, Group, Matrix4, Mesh,
  MeshLambertMaterial, PerspectiveCamera, Quaternion, Raycaster, Scene, Vector2, Vector3, WebGLRenderer,
} from "three";
import { toothGeometry } from "./meshes.js";
import { apply, moved, point } from "./poses.js";
import { shapeTube, tubeGeometry } from "./tube.js";

const HALF_ANGLE = 12; // degrees
const BROAD = 1.35; // width over height of a picture in which the height limits the size

const matrix = ({ R, x }) =>
  new Matrix4().set(R[0], R[1], R[2], x[0], R[3], R[4], R[5], x[1], R[6], R[7], R[8], x[2], 0, 0, 0, 1);

const material = (color, more) => new MeshLambertMaterial({ color, side: DoubleSide, ...more });

export class ArchScene {
  constructor(canvas, context, data) {
    this.data = data;
    this.renderer = new WebGLRenderer({ canvas, context, antialias: true, alpha: true });
    this.renderer.setPixelRatio(Math.min(2, window.devicePixelRatio || 1));
    this.camera = new PerspectiveCamera(2 * HALF_ANGLE, 1, 10, 1000);
    this.scene = new Scene();
    this.scene.add(new AmbientLight("#ffffff", 1.1), this.camera);
    const lamp = new DirectionalLight("#ffffff", 2.2);
    lamp.position.set(-30, 40, 60);
    this.camera.add(lamp);
    this.world = new Group();
    this.world.scale.set(1, -1, 1);
    this.scene.add(this.world);
    this.groups = { roots: [], start: [], wires: [], forces: [] };
    this.teeth = data.teeth.map((tooth) => this.buildTooth(tooth));
    this.wires = data.wires.map((wire) => this.buildWire(wire));
    this.arrows = data.teeth.map(() => this.buildArrow());
  }

  add(mesh, group, parent = this.world) {
    mesh.matrixAutoUpdate = false;
    parent.add(mesh);
    if (group) this.groups[group].push(mesh);
    return mesh;
  }

  buildTooth(tooth) {
    const { crown, root } = this.data.meshes[tooth.mesh];
    const shapes = [toothGeometry(crown, tooth.signs), toothGeometry(root, tooth.signs)];
    const paint = this.data.colours;
    const parts = [material(paint.crown), material(paint.root)].map((m, i) => {
      const mesh = this.add(new Mesh(shapes[i], m), i ? "roots" : null);
      mesh.userData.number = tooth.number;
      return mesh;
    });
    const ghost = material(paint.start, { transparent: true, opacity: 0.22, depthWrite: false });
    shapes.forEach((shape) => {
      const mesh = this.add(new Mesh(shape, ghost), "start");
      mesh.matrix.copy(matrix(tooth.start));
    });
    return { ...tooth, parts };
  }

  buildWire(wire) {
    const paint = material("#ffffff", { vertexColors: true });
    return { ...wire, mesh: this.add(new Mesh(tubeGeometry(wire.count), paint), "wires") };
  }

  buildArrow() {
    const paint = material(this.data.colours.force);
    const shaft = this.add(new Mesh(new CylinderGeometry(0.28, 0.28, 1, 12), paint), "forces");
    const head = this.add(new Mesh(new ConeGeometry(0.8, 1, 16), paint), "forces");
    return { shaft, head };
  }

  // Show step number `index` with movements `factor` times as large as computed.
  show(index, factor) {
    const step = this.data.steps[index];
    const poses = this.teeth.map((tooth, i) => moved(tooth.start, step.motions[i], factor));
    const true_ = this.teeth.map((tooth, i) => moved(tooth.start, step.motions[i], 1));
    this.slots = this.teeth.map((tooth, i) => point(poses[i], tooth.slot));
    this.labels = this.teeth.map((tooth, i) => point(poses[i], tooth.label));
    const extra = this.slots.map((slot, i) => point(true_[i], this.teeth[i].slot).map((c, k) => slot[k] - c));
    this.teeth.forEach((tooth, i) => tooth.parts.forEach((mesh) => mesh.matrix.copy(matrix(poses[i]))));
    this.wires.forEach((wire, i) => this.showWire(wire, step.wires[i], extra));
    this.teeth.forEach((_, i) => this.showArrow(this.arrows[i], this.slots[i], apply(poses[i].R, step.forces[i])));
    this.settle();
  }

  // A wire keeps its solved shape and is carried along with the slots, linearly between them.
  showWire(wire, state, extra) {
    wire.present = Boolean(state);
    if (!state) return;
    const colours = state.share.map((share) => this.stressColour(share));
    const points = state.points.map((p, i) => {
      const [a, b, t] = state.carry[i];
      return p.map((c, k) => c + (1 - t) * extra[a][k] + t * extra[b][k]);
    });
    shapeTube(wire.mesh.geometry, points, colours, wire.radius);
  }

  stressColour(share) {
    const { scale, past } = this.data.colours;
    if (share > 1) return new Color(past);
    const at = Math.max(0, share) * (scale.length - 1);
    const i = Math.min(scale.length - 2, Math.floor(at));
    return new Color(scale[i]).lerp(new Color(scale[i + 1]), at - i);
  }

  showArrow(arrow, foot, force) {
    const size = Math.hypot(...force);
    arrow.present = size >= this.data.least_force;
    const length = Math.max(this.data.mm_per_newton * size, 1e-6);
    const head = Math.min(2.2, 0.6 * length);
    const way = new Vector3(...force).divideScalar(size || 1);
    const turn = new Quaternion().setFromUnitVectors(new Vector3(0, 1, 0), way);
    const at = (distance) => new Vector3(...foot).addScaledVector(way, distance);
    arrow.shaft.matrix.compose(at((length - head) / 2), turn, new Vector3(1, Math.max(length - head, 1e-6), 1));
    arrow.head.matrix.compose(at(length - head / 2), turn, new Vector3(1, head, 1));
  }

  // What is ticked and what exists in this step is visible.
  settle(ticked = this.ticked) {
    this.ticked = ticked;
    for (const name of ["roots", "start"]) this.groups[name].forEach((mesh) => (mesh.visible = ticked[name]));
    this.wires.forEach((wire) => (wire.mesh.visible = ticked.wires && wire.present));
    this.arrows.forEach((a) => (a.shaft.visible = a.head.visible = ticked.forces && a.present));
  }

  choose(number) {
    const { chosen } = this.data.colours;
    this.teeth.forEach((tooth) => tooth.parts[0].material.emissive.set(tooth.number === number ? chosen : "#000000"));
  }

  resize(width, height) {
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    // a narrow picture sees a wider angle, so that the arch's width always fits
    const half = Math.tan((HALF_ANGLE * Math.PI) / 180) * Math.max(1, BROAD / this.camera.aspect);
    this.camera.fov = (2 * Math.atan(half) * 180) / Math.PI;
    this.camera.updateProjectionMatrix();
  }

  draw() {
    this.renderer.render(this.scene, this.camera);
  }

  // Place on the picture, as shares of its width and height, and depth of a point of the model.
  project(p) {
    const at = new Vector3(p[0], -p[1], p[2]).project(this.camera);
    return [(at.x + 1) / 2, (1 - at.y) / 2, at.z];
  }

  // Number of the tooth seen at (x, y), shares of the picture; undefined beside the teeth.
  toothAt(x, y) {
    const ray = new Raycaster();
    ray.setFromCamera(new Vector2(2 * x - 1, 1 - 2 * y), this.camera);
    const parts = this.teeth.flatMap((tooth) => tooth.parts).filter((mesh) => mesh.visible);
    return ray.intersectObjects(parts, false)[0]?.object.userData.number;
  }
}
