// Joins the picture, the sliders and the table of the page. All text and every number come from the page's data.
import { Orbit } from "./orbit.js";
import { ArchScene } from "./scene.js";

const data = JSON.parse(document.getElementById("viewer-data").textContent);
const $ = (id) => document.getElementById(id);
const canvas = $("view");
const ticks = ["roots", "start", "wires", "forces", "labels"];
let scene = null;
let waiting = false;

const ticked = () => Object.fromEntries(ticks.map((name) => [name, $(`tick-${name}`).checked]));
const step = () => Number($("step").value);
const factor = () => data.factors[Number($("magnify").value)];

function fillNumbers() {
  const { label, note, numbers } = data.steps[step()];
  $("step").setAttribute("aria-valuetext", label);
  $("step-label").textContent = label;
  $("step-note").textContent = note;
  const rows = $("numbers").tBodies[0].rows;
  data.teeth.forEach((tooth, i) => numbers[i].forEach((text, k) => (rows[i].cells[k + 1].textContent = text)));
}

function sayFactor() {
  const text = data.factor_words[Number($("magnify").value)];
  $("magnify").setAttribute("aria-valuetext", text);
  $("magnify-words").textContent = text;
}

function choose(number) {
  const rows = $("numbers").tBodies[0].rows;
  data.teeth.forEach((tooth, i) => {
    rows[i].classList.toggle("chosen", tooth.number === number);
    rows[i].querySelector("button").setAttribute("aria-pressed", String(tooth.number === number));
  });
  scene?.choose(number);
  redraw();
}

// Where two numbers would overlap, the farther tooth goes without.
function placeLabels() {
  const [width, height] = [canvas.clientWidth, canvas.clientHeight];
  const places = scene.labels.map((at, i) => ({ label: labels[i], at: scene.project(at) }));
  const placed = [];
  for (const { label, at } of places.sort((a, b) => a.at[2] - b.at[2])) {
    const [x, y] = [at[0] * width, at[1] * height];
    label.hidden = placed.some((p) => Math.abs(p[0] - x) < 18 && Math.abs(p[1] - y) < 14);
    label.style.left = `${x}px`;
    label.style.top = `${y}px`;
    if (!label.hidden) placed.push([x, y]);
  }
}

function redraw() {
  if (!scene || waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    scene.draw();
    placeLabels();
  });
}

function update() {
  fillNumbers();
  sayFactor();
  if (!scene) return;
  scene.show(step(), factor());
  redraw();
}

const labels = data.teeth.map((tooth) => {
  const span = document.createElement("span");
  span.textContent = tooth.number;
  $("labels").append(span);
  return span;
});

function startPicture(context) {
  scene = new ArchScene(canvas, context, data);
  scene.ticked = ticked();
  const orbit = new Orbit(canvas, scene.camera, data.centre, data.distance, redraw);
  scene.show(step(), factor());
  new ResizeObserver(() => {
    scene.resize(canvas.clientWidth, canvas.clientHeight);
    redraw();
  }).observe(canvas);
  scene.resize(canvas.clientWidth || 800, canvas.clientHeight || 500);
  orbit.look(...data.views[0].angles);
  data.views.forEach(({ angles }, i) => $(`from-${i}`).addEventListener("click", () => orbit.look(...angles)));
  ticks.forEach((name) =>
    $(`tick-${name}`).addEventListener("change", () => {
      $("labels").hidden = !ticked().labels;
      scene.settle(ticked());
      redraw();
    }),
  );
  canvas.addEventListener("click", (event) => {
    if (orbit.travelled > 4) return;
    const box = canvas.getBoundingClientRect();
    const number = scene.toothAt((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
    if (number) choose(number);
  });
  document.documentElement.classList.add("turnable");
}

for (const name of ["step", "magnify"]) $(name).addEventListener("input", update);
data.teeth.forEach((tooth, i) =>
  $("numbers").tBodies[0].rows[i].querySelector("button").addEventListener("click", () => choose(tooth.number)),
);
document.documentElement.classList.add("scripted");
const context = canvas.getContext("webgl2", { antialias: true, alpha: true });
if (context) startPicture(context);
else $("no-webgl").hidden = false;
update();
