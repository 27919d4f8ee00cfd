// measure.mjs LINK SECONDS: what a page costs in headless Chromium. One line for each figure.

import { createRequire } from "node:module";

const [link, seconds] = process.argv.slice(2);
const require = createRequire(`${process.cwd()}/`);
const { chromium } = require("playwright-core");

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: [
    "--no-sandbox",
    "--mute-audio",
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
    `--use-file-for-fake-audio-capture=${process.env.PLUCKED}`,
  ],
});
const visit = async () => {
  const context = await browser.newContext({ ignoreHTTPSErrors: true, hasTouch: true });
  return context.newPage();
};
const median = (all) => all.sort((a, b) => a - b)[Math.floor(all.length / 2)];

// From the address to the form, each time with nothing kept.
const opened = [];
for (let time = 0; time < 9; time += 1) {
  const page = await visit();
  const begun = performance.now();
  await page.goto(link);
  await page.locator("#start").waitFor({ state: "visible" });
  opened.push(performance.now() - begun);
  await page.context().close();
}
console.log(`from the address to ready: ${median(opened).toFixed(0)} ms (median of ${opened.length}, at most ${Math.max(...opened).toFixed(0)})`);

const page = await visit();
const client = await page.context().newCDPSession(page);
await client.send("Network.enable");
let bytes = 0;
client.on("Network.loadingFinished", (event) => (bytes += event.encodedDataLength));
await page.goto(link);
await page.locator("#start").waitFor({ state: "visible" });
console.log(`over the wire: ${(bytes / 1000).toFixed(0)} kB`);
await page.fill("#name", "Mia");
await page.tap("#ready");
await page.tap("#heard");
await page.locator("#lesson").waitFor({ state: "visible" });
await page.locator("#listen").waitFor({ state: "visible" });
await page.tap("#listen");
await page.tap("#over-https");
await page.waitForURL(/^https:/);
await page.tap("#go-on");
// It listens at once: not yet.
const listen = page.locator("#listen", { hasText: "Stop listening" });
await listen.waitFor({ state: "visible" });
await listen.tap();
// Processor time of the page's own thread, whatever else the machine does.
await client.send("Performance.enable", { timeDomain: "threadTicks" });
const busy = async () => {
  const { metrics } = await client.send("Performance.getMetrics");
  return metrics.find((metric) => metric.name === "TaskDuration").value;
};
// Without the driver asking anything meanwhile.
const share = async (what) => {
  const [from, begun] = [await busy(), performance.now()];
  await new Promise((done) => setTimeout(done, seconds * 1000));
  const spent = (await busy()) - from;
  const lasted = (performance.now() - begun) / 1000;
  console.log(`${what}: ${((100 * spent) / lasted).toFixed(2)} % of a core`);
  return spent / lasted;
};
await page.waitForFunction(() => /Tap the neck/.test(document.getElementById("now").textContent), { timeout: 60_000 });
await page.waitForTimeout(4000);
const before = await share("while a call is open, without the microphone");
await page.tap("#listen");
await page.waitForFunction(() => /^Listening/.test(document.getElementById("listening").textContent), { timeout: 60_000 });
const listening = await share("and listening");
console.log(`the ear: ${(100 * (listening - before)).toFixed(2)} % of a core`);
await browser.close();
