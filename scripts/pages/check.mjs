// Opens each page in Chromium without a network, lets axe-core look at it on a
// wide and a narrow screen, takes pictures, and prints it. See scripts/check-pages.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const [out, ...pages] = process.argv.slice(2);
if (!out || pages.length === 0) {
    console.error("usage: check.mjs FOLDER PAGE...");
    process.exit(2);
}
const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
});
let breaches = 0;
for (const page of pages) {
    const name = basename(page, ".html");
    const address = pathToFileURL(resolve(page)).href;
    for (const [screen, width, height] of [["wide", 1280, 800], ["narrow", 360, 740]]) {
        const context = await browser.newContext({ viewport: { width, height }, offline: true });
        const tab = await context.newPage();
        const asked = [];
        tab.on("request", (request) => asked.push(request.url()));
        await tab.goto(address);
        for (const url of asked.filter((url) => url !== address)) {
            breaches += 1;
            console.log(`${name}, ${screen}: asks for ${url}`);
        }
        const wide = await tab.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (wide > 0) {
            breaches += 1;
            console.log(`${name}, ${screen}: ${wide} pixels too wide`);
        }
        // Nor may a part of it, whatever is folded up.
        const parts = await tab.evaluate(() => {
            document.querySelectorAll("details").forEach((part) => (part.open = true));
            const scrolls = (part) => part.scrollWidth > part.clientWidth + 1 && part.clientWidth > 1;
            const shown = [...document.querySelectorAll("main, main *:not(svg *)")].filter((part) => getComputedStyle(part).display !== "inline");
            return shown.filter(scrolls).map((part) => part.outerHTML.slice(0, 80));
        });
        for (const part of parts) {
            breaches += 1;
            console.log(`${name}, ${screen}: has to be scrolled sideways: ${part}`);
        }
        await tab.screenshot({ path: join(out, `${name}-${screen}.png`), fullPage: true });
        await tab.evaluate(axe);
        const found = await tab.evaluate(() => axe.run(document));
        for (const breach of found.violations) {
            breaches += 1;
            console.log(`${name}, ${screen}: ${breach.id} (${breach.impact}): ${breach.help}`);
            for (const node of breach.nodes.slice(0, 3)) console.log(`    ${node.html.slice(0, 160)}`);
        }
        console.log(`${name}, ${screen}: ${found.passes.length} rules kept, ${found.violations.length} broken, ${found.incomplete.length} undecided${found.incomplete.map((rule) => ` (${rule.id})`).join("")}`);
        if (found.passes.length === 0) {
            breaches += 1;
            console.log(`${name}, ${screen}: axe looked at nothing`);
        }
        if (screen === "wide") await tab.pdf({ path: join(out, `${name}.pdf`), preferCSSPageSize: true });
        await context.close();
    }
}
await browser.close();
console.log(`${pages.length} pages, ${breaches} breaches`);
process.exit(breaches === 0 ? 0 : 1);
