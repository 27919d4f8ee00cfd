// firefox.mjs LINK FOLDER: a student with a phone taps through a whole lesson in headless Firefox, as
// play.mjs does in Chromium. Says in lines how far it is; pictures go to FOLDER. Speaks Marionette,
// which every Firefox understands (firefox-source-docs.mozilla.org/testing/marionette/Protocol.html),
// so that nothing else is needed. Ends with 1 and a sentence if something is not as it should be.

import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { connect } from "node:net";
import { tmpdir } from "node:os";

const [link, folder] = process.argv.slice(2);
const PATIENCE_MS = 60_000;
const profile = mkdtempSync(`${tmpdir()}/fifthpeg-firefox-`);
const wishes = {
  "marionette.port": 0,
  "datareporting.policy.dataSubmissionEnabled": false,
  "app.update.enabled": false,
  "network.captive-portal-service.enabled": false,
  "network.connectivity-service.enabled": false,
  // Sound without a process of its own: in that one PulseAudio's thread and the one that serves pages at times
  // wait for each other for ever (Firefox ESR 153, seen in 3 of 25 lessons).
  "media.cubeb.sandbox": false,
  "security.sandbox.content.level": 0,
};
const lines = Object.entries(wishes).map(([name, value]) => `user_pref(${JSON.stringify(name)}, ${value});\n`);
writeFileSync(`${profile}/user.js`, lines.join(""));
const firefox = spawn(process.env.FIREFOX ?? "/usr/bin/firefox", ["--headless", "--marionette", "--profile", profile], {
  env: { ...process.env, HOME: profile },
  stdio: "ignore",
});

const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
const until = async (what, holds) => {
  for (const end = Date.now() + PATIENCE_MS; Date.now() < end; await sleep(100)) {
    const found = await holds();
    if (found) return found;
  }
  throw new Error(what);
};

// Each message has its length in front, in letters.
let waiting = new Map();
let last = 0;
let socket;
const ask = (command, parameters = {}) =>
  new Promise((done, failed) => {
    const message = JSON.stringify([0, ++last, `WebDriver:${command}`, parameters]);
    waiting.set(last, { done, failed });
    socket.write(`${Buffer.byteLength(message)}:${message}`);
  });
const hear = (message) => {
  const [, id, error, result] = JSON.parse(message);
  const { done, failed } = waiting.get(id) ?? {};
  waiting.delete(id);
  if (error) failed?.(new Error(`${error.error}: ${error.message}`));
  else done?.(result.value ?? result);
};
const open = async () => {
  const file = `${profile}/MarionetteActivePort`;
  await until("Firefox does not start", () => existsSync(file) && readFileSync(file, "utf8").trim());
  const port = Number(readFileSync(file, "utf8"));
  socket = connect(port, "127.0.0.1");
  let come = Buffer.alloc(0);
  let greeted = false;
  await new Promise((done, failed) => {
    socket.on("error", failed);
    socket.on("data", (piece) => {
      come = Buffer.concat([come, piece]);
      for (;;) {
        const colon = come.indexOf(":");
        const length = Number(come.subarray(0, Math.max(colon, 0)).toString());
        if (colon < 0 || come.length < colon + 1 + length) return;
        const message = come.subarray(colon + 1, colon + 1 + length).toString();
        come = come.subarray(colon + 1 + length);
        if (greeted) hear(message);
        else done((greeted = true));
      }
    });
  });
  await ask("NewSession", { capabilities: { alwaysMatch: { acceptInsecureCerts: true } } });
};

const run = (script, ...args) => ask("ExecuteScript", { script, args });
const find = async (selector) => Object.values(await ask("FindElement", { using: "css selector", value: selector }))[0];
const tap = async (selector) => ask("ElementClick", { id: await find(selector) });
const type = async (selector, text) => ask("ElementSendKeys", { id: await find(selector), text });
const visible = (id) =>
  until(`#${id} is not shown`, () => run("return document.getElementById(arguments[0])?.checkVisibility() ?? false", id));
const says = (id, words) =>
  until(`#${id} does not say ${words}`, () =>
    run("return new RegExp(arguments[1]).test(document.getElementById(arguments[0])?.textContent ?? '')", id, words));
const picture = async (name) => {
  const image = await ask("TakeScreenshot", { full: true });
  writeFileSync(`${folder}/firefox-${name}.png`, Buffer.from(image, "base64"));
};

let failure;
try {
  await open();
  await ask("Navigate", { url: link });
  await visible("start");
  const bar = await run("return location.href");
  if (bar.includes("#")) throw new Error(`the address bar shows ${bar}`);
  if (await run("return window.isSecureContext")) throw new Error("plain http counts as secure here");
  await type("#name", "Mia");
  await tap("#ready");
  await visible("check");
  await tap("#heard");
  await visible("lesson");
  console.log("in");
  await says("now", "Tap the neck");
  await tap(`[data-place="1/0"] .area`);
  await says("tried", "1/0");
  await tap("#answer");
  await says("now", "low|high");
  console.log("missed");
  await ask("Refresh");
  await visible("lesson");
  await says("who", "Mia ·");
  console.log("back");
  await tap("#sound-on");
  await until("the sound does not come on", () => run("return document.getElementById('sound-on').hidden"));
  await tap("#hear");
  await tap(`[data-place="2/1"] .area`);
  await tap("#answer");
  await says("now", "Found");
  await picture("found");
  console.log("found");
  await says("now", "It was");
  await picture("revealed");
  console.log("revealed");
  await visible("over");
  console.log("over");
} catch (error) {
  const shown = await run("return document.querySelector('main')?.innerText").catch(() => "nothing");
  failure = `${error.message}; the page says: ${shown}`;
}
socket?.destroy();
firefox.kill();
await new Promise((done) => (firefox.exitCode === null ? firefox.once("exit", done) : done()));
rmSync(profile, { recursive: true, force: true });
if (failure) console.error(failure);
process.exit(failure ? 1 : 0);
