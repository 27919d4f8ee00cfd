// play.mjs LINK FOLDER SCENE...: a student with a phone, in headless Chromium. Each scene is one
// of those below; what it sees it says in lines, and pictures go to FOLDER. Needs playwright-core
// (and axe-core) beside it. Ends with 1 and a sentence if something is not as it should be.

import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const [link, folder, ...scenes] = process.argv.slice(2);
const require = createRequire(`${process.cwd()}/`);
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const plucked = process.env.PLUCKED;
// SOUND: this machine's own sound system, as the browser finds it.
const sounds = process.env.SOUND !== undefined;
const microphone = sounds
  ? ["--use-fake-ui-for-media-stream"]
  : plucked
  ? ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", `--use-file-for-fake-audio-capture=${plucked}`]
  : [];
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  // Playwright mutes what has no window.
  ignoreDefaultArgs: sounds ? ["--mute-audio"] : [],
  args: ["--no-sandbox", ...(sounds ? [] : ["--mute-audio"]), ...microphone, ...(process.env.RESOLVE ? [`--host-resolver-rules=MAP ${process.env.RESOLVE}`] : [])],
});
const warned = process.env.WARNED !== undefined;
const size = (process.env.SIZE ?? "360x740").split("x").map(Number);
const context = await browser.newContext({
  viewport: { width: size[0], height: size[1] },
  hasTouch: true,
  // As who goes on at the warning, unless it is to be seen and gone on at; what plain http is
  // given stays as it is.
  ignoreHTTPSErrors: !warned,
  colorScheme: process.env.SCHEME === "dark" ? "dark" : "light",
});
// Axe is put in by the driver; the page's own policy would not let it.
const page = await context.newPage();
const failures = [];
page.on("pageerror", (error) => failures.push(`the page failed: ${error}`));
page.on("console", (message) => {
  if (message.type() === "error" && !/WebSocket|ERR_CONNECTION|ERR_CERT_AUTHORITY/.test(message.text())) {
    failures.push(`the page complained: ${message.text()}`);
  }
});
page.on("request", (request) => {
  const to = new URL(request.url());
  const known = [new URL(link).host, process.env.NAMED];
  if (to.protocol !== "data:" && !known.includes(to.host)) failures.push(`asked ${request.url()}`);
});

const patience = 20_000;
const visible = (id) => page.locator(`#${id}`).waitFor({ state: "visible", timeout: patience });
const says = async (id, words) => {
  await page.waitForFunction(
    ([id, words]) => new RegExp(words).test(document.getElementById(id)?.textContent ?? ""),
    [id, words],
    { timeout: patience },
  ).catch(async () => {
    const text = await page.locator(`#${id}`).textContent();
    throw new Error(`#${id} says "${text}" and not "${words}"`);
  });
};
let pictures = 0;
const picture = async (name) => {
  await page.screenshot({ path: `${folder}/${size[0]}-${String(++pictures).padStart(2, "0")}-${name}.png`, fullPage: true });
  const found = await page.evaluate(`${axe}; axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] })`);
  const twice = await page.evaluate(() => {
    const ids = [...document.querySelectorAll("[id]")].map((one) => one.id);
    return ids.filter((id, at) => ids.indexOf(id) !== at);
  });
  if (twice.length) failures.push(`${name}: there twice: ${twice}`);
  for (const breach of found.violations) {
    failures.push(`${name}: axe finds ${breach.id}: ${breach.nodes.map((n) => n.target + " " + n.failureSummary).join("; ")}`);
  }
};

const name = process.env.NAME ?? "Mia";
const place = process.env.PLACE ?? "2/1";
const at = (place) => page.locator(`[data-place="${place}"]`);

const known = {
  // Opens the link and comes as far as the form.
  async open() {
    await page.goto(link);
    await visible("start");
    const bar = await page.evaluate(() => location.href);
    if (bar.includes("#")) throw new Error(`the address bar shows ${bar}`);
    await picture("start");
  },
  async in() {
    await page.fill("#name", name);
    if (process.env.WORDS) await page.fill("#words", process.env.WORDS);
    await page.tap("#ready");
    await visible("check");
    await picture("check");
    await page.tap("#heard");
  },
  async welcomed() {
    await visible("lesson");
    await says("now", "Listen|Tap the neck|called|It was");
    await picture("waiting");
    console.log("in");
  },
  async called() {
    await says("now", "Tap the neck");
    await picture("called");
    console.log("called");
  },
  async tried() {
    await at(place).tap();
    await says("tried", place);
    await picture("tried");
  },
  async answered() {
    await page.tap("#answer");
    await says("now", "Found|low|high|Answered");
    await picture("answered");
  },
  async found() {
    await says("now", "Found");
    await picture("found");
    console.log("found");
  },
  async missed() {
    await says("now", "(low|high|lower|higher)");
    await picture("missed");
    console.log("missed");
  },
  async revealed() {
    await says("now", "It was");
    await picture("revealed");
    console.log("revealed");
  },
  async "missed-answer"() {
    await at("1/0").tap();
    await page.tap("#answer");
  },
  async "called-after"() {
    await says("now", "Tap the neck|low|high");
    await at(place).tap();
  },
  async reloaded() {
    await page.reload();
    await visible("lesson");
    await says("who", `${name} ·`);
    console.log("back");
  },
  async "sound-on"() {
    await page.tap("#sound-on");
    await page.locator("#sound-on").waitFor({ state: "hidden", timeout: patience });
  },
  async lost() {
    await says("link", "Trying again");
    await picture("lost");
    console.log("lost");
  },
  async again() {
    await says("link", "^$");
    console.log("again");
  },
  async "words-wanted"() {
    await visible("words-part");
    await says("start-trouble", "words");
    await picture("words");
    console.log("words wanted");
  },
  async "words-given"() {
    await page.fill("#words", process.env.GIVEN);
    await page.tap("#ready");
  },
  async "over-https"() {
    if (await page.evaluate(() => window.isSecureContext)) throw new Error("plain http counts as secure here");
    await page.tap("#listen");
    await visible("instrument");
    await picture("before-https");
    await page.tap("#over-https");
    if (warned) {
      // Chromium's own warning: its ids are Chromium's.
      await page.locator("#details-button").waitFor({ state: "visible", timeout: patience });
      await page.screenshot({ path: `${folder}/${size[0]}-warning.png` });
      await page.locator("#details-button").click();
      await page.locator("#proceed-link").click();
      console.log("warned");
    }
    await page.waitForURL(/^https:/, { timeout: patience });
    await visible("back");
    await says("back-title", `Go on as ${name}`);
    const bar = await page.evaluate(() => location.href);
    if (bar.includes("#")) throw new Error(`the address bar shows ${bar}`);
    await picture("go-on");
    console.log("over https");
  },
  async "go-on"() {
    await page.tap("#go-on");
    await visible("lesson");
    await says("who", `${name} ·`);
  },
  // Nothing is to be done for the microphone where browsers trust the certificate.
  async "trusted"() {
    const at = await page.evaluate(() => location.host);
    if (at !== process.env.NAMED) throw new Error(`the page is at ${at}`);
    await page.tap("#listen");
    await says("listening", "nothing to answer");
    console.log("trusted");
  },
  // The seat of the link is none of theirs.
  async "not-me"() {
    await page.tap("#not-me");
    await visible("start");
    if ((await page.inputValue("#name")) !== "") throw new Error("a name stands there");
    await page.fill("#name", "Ivo");
    await page.tap("#ready");
    await page.tap("#heard");
    await visible("lesson");
    await says("who", "Ivo ·");
    console.log("somebody else");
  },
  async listens() {
    await says("listening", "nothing to answer");
    await picture("nothing-to-hear");
    console.log("listens");
  },
  async plucked() {
    await says("plucked", "Heard");
    await picture("plucked");
    await says("now", "Found");
    await says("listening", "nothing to answer");
    await says("tried", process.env.NOTE ?? "D4");
    console.log("found");
  },
  async forbidden() {
    await page.locator("#listen").waitFor({ state: "hidden", timeout: patience });
    await says("listening", "^$");
    console.log("forbidden");
  },
  async "answered-among-friends"() {
    await page.tap("#answer");
  },
  // Among friends: calls C4 at 2/1, whatever was chosen before.
  async "my-turn"() {
    await says("now", "Your turn to call");
    await picture("my-turn");
    await at("2/1").tap();
    await page.tap("#pick");
    await says("now", "You called");
    await picture("you-called");
    console.log("called by me");
  },
  // Among friends: calls the note that is plucked.
  async "calls-by-playing"() {
    await says("now", "Your turn to call");
    await says("listening", "Pluck the note to call");
    await says("plucked", `Heard ${process.env.NOTE ?? "D4"}`);
    await picture("plucked-to-call");
    await page.tap("#answer-heard");
    await says("now", "You called");
    console.log("called by me");
  },
  async "all-found"() {
    await says("now", "Everyone found it|It was");
    await picture("all-found");
    console.log("all found");
  },
  // A page for a projector, with the words of the link.
  async hall() {
    const wall = new URL(link);
    wall.pathname = "/hall";
    await page.goto(wall.href);
    await visible("hall");
    await says("hall-now", "first call");
    const bar = await page.evaluate(() => location.href);
    if (!bar.endsWith("/hall")) throw new Error(`the address bar shows ${bar}`);
    await picture("hall-waiting");
    console.log("hall");
  },
  async "hall-called"() {
    await says("hall-now", "A note is called");
    await says("hall-found", "0 of 1 found it");
    await picture("hall-called");
    if (/Mia/.test(await page.locator("#hall").innerText())) throw new Error("a name is shown");
    console.log("hall called");
  },
  async "hall-found"() {
    await says("hall-found", "1 of 1 found it");
    await says("hall-now", "A note is called");
    await picture("hall-found");
    console.log("hall found");
  },
  async "hall-names"() {
    await says("hall-names", "Mia");
    await picture("hall-names");
    console.log("hall names");
  },
  async "hall-revealed"() {
    await says("hall-now", "It was D4: 1/0");
    await picture("hall-revealed");
    console.log("hall revealed");
  },
  // Answers each call with one place, right or not, once its tone is over, until the lesson is.
  async "answers-each"() {
    for (;;) {
      await page.waitForFunction(
        () => !document.getElementById("over").hidden || /Tap the neck/.test(document.getElementById("now").textContent),
        undefined,
        { timeout: 0 },
      );
      if (await page.locator("#over").isVisible()) return;
      await page.waitForTimeout(1500);
      await at(place).tap();
      await page.tap("#answer");
      await says("now", "Not found|Found|low|high|Answered|next call");
      await page.waitForFunction(
        () => !document.getElementById("over").hidden || /next call/.test(document.getElementById("now").textContent),
        undefined,
        { timeout: 0 },
      );
    }
  },
  async "stays"() {
    await page.locator("#over").waitFor({ state: "visible", timeout: 0 });
  },
  async over() {
    await visible("over");
    await picture("over");
    console.log("over");
  },
  async "no-storage-left"() {
    const kept = await page.evaluate(() => localStorage.getItem("fifthpeg"));
    if (kept !== null) throw new Error("a place is still kept");
  },
};

try {
  for (const scene of scenes) {
    if (!known[scene]) throw new Error(`there is no scene ${scene}`);
    await known[scene]();
  }
} catch (error) {
  await page.screenshot({ path: `${folder}/failed.png`, fullPage: true }).catch(() => undefined);
  failures.unshift(`${error.message}; the page says: ${await page.locator("main").innerText().catch(() => "nothing")}`);
}
await browser.close();
for (const failure of failures) console.error(failure);
process.exit(failures.length ? 1 : 0);
