// together.mjs WORK PAGE MADE: puts script and style into the page, names the other files by their
// content, and writes the Content-Security-Policy that allows these and nothing else. They are
// compressed afterwards.

import { createHash } from "node:crypto";
import { mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";

const [work, template, made] = process.argv.slice(2);
const hash = (text, digest) => createHash("sha256").update(text).digest(digest);
const wasm = readFileSync(`${work}/fifthpeg_bg.wasm`);
const script = readFileSync(`${work}/page.js`, "utf8").trim().replaceAll("</script", "<\\/script");
const style = readFileSync(`${work}/page.css`, "utf8").trim();
const listen = readFileSync(`${work}/listen.js`);
const named = (name, bytes, end) => `/${name}-${hash(bytes, "hex").slice(0, 16)}.${end}`;
const files = [
  { path: named("page", wasm, "wasm"), kind: "application/wasm", bytes: wasm },
  { path: named("listen", listen, "js"), kind: "text/javascript", bytes: listen },
];

const parts = { STYLE: style, SCRIPT: script, WASM: files[0].path, LISTEN: files[1].path };
const html = readFileSync(template, "utf8").replace(/\/\*([A-Z]+)\*\//g, (_, part) => parts[part]);

const policy = [
  "default-src 'none'",
  // The part that listens is a file of the host's own: no hash is heeded for it.
  `script-src 'sha256-${hash(script, "base64")}' 'wasm-unsafe-eval' 'self'`,
  `style-src 'sha256-${hash(style, "base64")}'`,
  "connect-src 'self'",
  "img-src data:",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join("; ");

rmSync(made, { recursive: true, force: true });
mkdirSync(made, { recursive: true });
writeFileSync(`${made}/page.html`, html);
for (const { path, bytes } of files) writeFileSync(`${made}${path}`, bytes);
writeFileSync(`${made}/names`, [policy, ...files.map(({ path, kind }) => `${path} ${kind}`), ""].join("\n"));
