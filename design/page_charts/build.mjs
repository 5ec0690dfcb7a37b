// Makes the page's static/vega.min.js and the licences of all that is in it.
//
// Run here:  npm install --no-package-lock && node build.mjs
// The versions stand in package.json. A change of Altair or vl-convert that brings another major
// version of Vega needs a change there too: the descriptions are compiled on the server.
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { build } from "esbuild";

const STATIC = "../../src/nightglass/page/static";

const made = await build({
  entryPoints: ["entry.js"],
  outfile: `${STATIC}/vega.min.js`,
  bundle: true,
  minify: true,
  format: "iife",
  target: "es2022",
  charset: "utf8",
  legalComments: "none",
  metafile: true,
});

const inside = Object.values(made.metafile.outputs)[0].inputs;
const names = new Set();
for (const [file, { bytesInOutput }] of Object.entries(inside)) {
  const found = /node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(file);
  if (found && bytesInOutput > 0) names.add(found[1]);
}
const texts = new Map();
for (const name of [...names].sort()) {
  const folder = `node_modules/${name}`;
  const { version, license } = JSON.parse(readFileSync(`${folder}/package.json`, "utf8"));
  const file = ["LICENSE", "LICENSE.md", "LICENSE.txt"].find((one) => existsSync(`${folder}/${one}`));
  if (!file) throw new Error(`${name}: no licence text; add it by hand`);
  const text = readFileSync(`${folder}/${file}`, "utf8").trim();
  if (!texts.has(text)) texts.set(text, []);
  texts.get(text).push(`${name} ${version} (${license})`);
}
const parts = [...texts].map(([text, who]) => `${who.join("\n")}\n\n${text}\n`);
const head = "vega.min.js holds parts of these packages, made by design/page_charts/build.mjs.\n";
writeFileSync(`${STATIC}/vega-LICENSES.txt`, [head, ...parts].join(`\n${"-".repeat(79)}\n\n`));
console.log(`${Object.values(made.metafile.outputs)[0].bytes} bytes of ${names.size} packages`);
