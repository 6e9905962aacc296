// Bundles the viewer and three.js into the one script that reports carry: ../data/viewer.js, with its licence beside it.
import { build } from "esbuild";
import { readFile, writeFile } from "node:fs/promises";

const { version } = JSON.parse(await readFile("node_modules/three/package.json", "utf8"));

await build({
  entryPoints: ["src/main.js"],
  outfile: "../data/viewer.js",
  bundle: true,
  minify: true,
  format: "iife",
  target: "es2020",
  charset: "ascii",
  legalComments: "inline",
});
const licence = await readFile("node_modules/three/LICENSE", "utf8");
await writeFile("../data/viewer.LICENSE.txt", `viewer.js contains three.js ${version}:\n\n${licence.trim()}\n`);
