// Turning and nearing the arch by pointer, wheel, two fingers and keys. The camera looks at `centre`.

const LIMIT = Math.PI / 2;

export class Orbit {
  // `home`: [turn, rise] in radians; turn 0 looks from the front, +90 degrees from the patient's left.
  constructor(element, camera, centre, distance, changed) {
    Object.assign(this, { element, camera, centre, changed });
    this.far = distance;
    this.distance = distance;
    this.pointers = new Map();
    element.addEventListener("pointerdown", (e) => this.down(e));
    element.addEventListener("pointermove", (e) => this.move(e));
    for (const name of ["pointerup", "pointercancel"]) element.addEventListener(name, (e) => this.pointers.delete(e.pointerId));
    element.addEventListener("wheel", (e) => this.wheel(e), { passive: false });
    element.addEventListener("keydown", (e) => this.key(e));
  }

  look(turn, rise) {
    Object.assign(this, { turn, rise, distance: this.far });
    this.update();
  }

  update() {
    this.rise = Math.max(-LIMIT, Math.min(LIMIT, this.rise));
    this.distance = Math.max(0.25 * this.far, Math.min(2.5 * this.far, this.distance));
    const { turn, rise, distance, centre } = this;
    const away = [Math.sin(turn) * Math.cos(rise), -Math.cos(turn) * Math.cos(rise), Math.sin(rise)];
    this.camera.position.set(...centre.map((c, i) => c + distance * away[i]));
    this.camera.up.set(-Math.sin(turn) * Math.sin(rise), Math.cos(turn) * Math.sin(rise), Math.cos(rise));
    this.camera.lookAt(...centre);
    this.changed();
  }

  down(event) {
    this.element.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    this.travelled = this.pointers.size > 1 ? Infinity : 0;
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    const others = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
    this.pointers.set(event.pointerId, now);
    if (others.length) {
      const gap = (at) => Math.hypot(at[0] - others[0][0], at[1] - others[0][1]) || 1;
      this.distance *= gap(before) / gap(now);
    } else {
      this.travelled += Math.hypot(now[0] - before[0], now[1] - before[1]);
      this.turn -= 0.008 * (now[0] - before[0]);
      this.rise += 0.008 * (now[1] - before[1]);
    }
    this.update();
  }

  // The page must still scroll under the picture: the wheel nears only while the picture has the focus.
  wheel(event) {
    if (document.activeElement !== this.element) return;
    event.preventDefault();
    this.distance *= Math.exp(0.001 * event.deltaY);
    this.update();
  }

  key(event) {
    const turns = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
    const zooms = { "+": 0.9, "=": 0.9, "-": 1 / 0.9 };
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (turns[event.key]) {
      this.turn += turns[event.key][0];
      this.rise += turns[event.key][1];
    } else if (zooms[event.key]) this.distance *= zooms[event.key];
    else return;
    event.preventDefault();
    this.update();
  }
}
