// The pages in a real browser: nothing asked of the network, nothing wider than the screen, everything named, text that
// can be read, and paper that holds it.
import assert from "node:assert/strict";
import { accessSync, constants, mkdirSync } from "node:fs";
import { basename, delimiter, join } from "node:path";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";

import axe from "axe-core";
import { chromium } from "playwright-core";

import { clearAway, fullCard, hostileRoom, sampleRoom } from "./rooms.mjs";

const widths = [360, 768, 1440];
const pixelsOfMillimetre = 96 / 25.4;
// Between the margins of 14 mm that the pages set.
const a5 = 148 - 18;
const papers = { A4: 210 - 28, Letter: 215.9 - 28 };
// Sheets of paper that a page should take; text and charts of the samples, with the fonts of a Debian.
const sheetsOf = { index: [1, 1], calibration: [3, 8], check: [2, 6], checks: [1, 3], measurement: [3, 7], card: [1, 1] };
const looks = process.env.GRADUS_LOOKS;  // folder for pictures of the pages; empty: none are kept

let browser;
let rooms;

function chromiumOnThisMachine() {
  for (const folder of process.env.PATH.split(delimiter))
    for (const name of ["chromium", "chromium-browser"])
      try {
        accessSync(join(folder, name), constants.X_OK);
        return join(folder, name);
      } catch {
        // The next one.
      }
  throw new Error("there is no Chromium on this machine; tools/test.sh installs it");
}

before(async () => {
  rooms = { sample: sampleRoom(), hostile: hostileRoom() };
  browser = await chromium.launch({
    executablePath: chromiumOnThisMachine(),
    args: process.getuid() === 0 ? ["--no-sandbox"] : [],
  });
  if (looks) mkdirSync(looks, { recursive: true });
});

after(async () => {
  await browser?.close();
  clearAway();
});

// Opens the page and keeps what it should not do.
async function open(file, width) {
  const page = await browser.newPage({ viewport: { width, height: 900 } });
  const complaints = [];
  const folder = new URL(".", pathToFileURL(file)).href;
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) complaints.push(message.text());
  });
  page.on("pageerror", (error) => complaints.push(String(error)));
  page.on("requestfailed", (request) => complaints.push(`failed: ${request.url().slice(0, 80)}`));
  page.on("request", (request) => {
    if (!request.url().startsWith(folder) && !request.url().startsWith("data:"))
      complaints.push(`asked for ${request.url()}`);
  });
  await page.goto(pathToFileURL(file).href);
  return { page, complaints };
}

async function violations(page) {
  await page.evaluate(axe.source);
  const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  return found.violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.map((node) => node.html.slice(0, 120)).join(" | ")}`);
}

const allPages = () => [...rooms.sample, ...rooms.hostile];

// One page of each kind from both rooms: sheets differ in their numbers only.
const pageOfEachKind = () =>
  [rooms.sample, rooms.hostile].flatMap((room) => {
    const kinds = new Map(room.map((file) => [basename(file).split(/[-.]/)[0], file]));
    return [...kinds.values()];
  });

for (const width of widths)
  test(`at ${width} pixels nothing is wider than the screen, and the page asks for nothing`, async () => {
    for (const file of allPages()) {
      const { page, complaints } = await open(file, width);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      assert.equal(wide, 0, `${file} is ${wide} pixels too wide at ${width}`);
      assert.deepEqual(complaints, [], file);
      if (looks && rooms.sample.includes(file))
        await page.screenshot({ path: join(looks, `${basename(file, ".html")}-${width}.png`), fullPage: true });
      await page.close();
    }
  });

for (const width of widths)
  test(`at ${width} pixels no table or chart scrolls in its frame, and letters in charts can be read`, async () => {
    const leastPixels = 9.5;
    for (const file of pageOfEachKind().filter((file) => rooms.sample.includes(file))) {
      const { page } = await open(file, width);
      const seen = await page.evaluate(() => ({
        scrolling: [...document.querySelectorAll(".wide")]
          .filter((frame) => frame.scrollWidth > frame.clientWidth).map((frame) => frame.getAttribute("aria-label")),
        letters: [...document.querySelectorAll(".wide > svg text")].filter((text) => text.getClientRects().length > 0)
          .map((text) => parseFloat(getComputedStyle(text).fontSize) * text.getScreenCTM().a).filter((size) => size > 0),
        charts: [...document.querySelectorAll("figure .wide")].filter((frame) => frame.querySelector("svg"))
          .map((frame) => [...frame.children].filter((chart) => chart.getClientRects().length > 0).length),
      }));
      assert.deepEqual(seen.scrolling, [], file);
      assert.ok(Math.min(leastPixels, ...seen.letters) >= leastPixels, `${file}: letters of ${Math.min(...seen.letters)} pixels`);
      assert.ok(seen.charts.every((shown) => shown === 1), `${file}: one layout of each chart is shown`);
      await page.close();
    }
  });

test("axe-core finds nothing to complain of, contrast of text among it", async () => {
  for (const file of pageOfEachKind()) {
    for (const width of [360, 1440]) {
      const { page } = await open(file, width);
      assert.deepEqual(await violations(page), [], `${file} at ${width}`);
      await page.close();
    }
  }
});

test("axe-core would find a bad page", async () => {
  const { page } = await open(rooms.sample[0], 768);
  await page.evaluate(() => {
    document.querySelector("main").insertAdjacentHTML("beforeend", "<p style='color:#aaa'>faint</p><img src='x.png'>");
  });
  const found = await violations(page);
  assert.ok(found.some((line) => line.startsWith("color-contrast")), found.join("\n"));
  assert.ok(found.some((line) => line.startsWith("image-alt")), found.join("\n"));
  await page.close();
});

test("every picture is there and every chart has a title and a description", async () => {
  let controlCharts = 0;
  for (const file of allPages()) {
    const { page } = await open(file, 768);
    const seen = await page.evaluate(() => ({
      images: [...document.images].map((image) => [image.naturalWidth > 0, image.alt.length > 20]),
      charts: [...document.querySelectorAll("figure .wide > svg")].map((chart) => [
        chart.querySelector("title")?.textContent.length > 5, chart.querySelector("desc")?.textContent.length > 20]),
    }));
    if (basename(file) === "calibration-seen-jpg.html") assert.equal(seen.images.length, 1, file);  // both scales
    else if (file.includes("by-eye")) assert.equal(seen.charts.length, 2, file);  // of its readings, broad and narrow
    else if (basename(file).startsWith("calibration-eyepiece")) assert.ok(seen.charts.length >= 2, file);  // no pictures
    else if (basename(file).startsWith("calibration")) {
      assert.ok(seen.images.length >= 1, file);
      assert.ok(seen.charts.length >= 5, file);
    }
    if (/^checks?-/.test(basename(file))) {
      const without = (await page.evaluate(() => document.body.innerText)).includes("No chart:");
      assert.ok(seen.charts.length >= 1 || without, file);
      controlCharts += seen.charts.length;
    }
    for (const good of [...seen.images, ...seen.charts]) assert.deepEqual(good, [true, true], file);
    await page.close();
  }
  assert.ok(controlCharts >= 1);
});

test("hostile text is text: no script ran, and its mark-up can be read", async () => {
  for (const file of rooms.hostile) {
    const { page } = await open(file, 768);
    assert.notEqual(await page.title(), "taken");
    assert.match(await page.evaluate(() => document.body.innerText), /<script>/);
    assert.equal(await page.evaluate(() => document.querySelectorAll("script, [onerror]").length), 0);
    await page.close();
  }
});

test("links of the overview lead to sheets, and back", async () => {
  const { page } = await open(rooms.sample.find((file) => basename(file) === "index.html"), 768);
  await page.click("text=wool-20x");
  assert.equal(await page.locator("h1").textContent(), "wool-20x");
  await page.click("nav a");
  assert.equal(await page.locator("h1").textContent(), "wool room");
  await page.close();
});

function sheetsIn(pdf) {
  return (pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g) ?? []).length;
}

for (const [paper, width] of Object.entries(papers))
  test(`on ${paper} no table or chart is cut and the number of sheets is as expected`, async () => {
    for (const file of rooms.sample) {
      const card = basename(file) === "card.html";  // it says itself how large its paper is
      const { page } = await open(file, Math.floor((card ? a5 : width) * pixelsOfMillimetre));
      await page.emulateMedia({ media: "print" });
      const cut = await page.evaluate(() =>
        [...document.querySelectorAll(".wide, main")]
          .filter((part) => part.scrollWidth > part.clientWidth + 1)
          .map((part) => part.getAttribute("aria-label")));
      assert.deepEqual(cut, [], file);
      const loose = await page.evaluate(() =>
        [...document.querySelectorAll("tr, figure")].filter((part) => getComputedStyle(part).breakInside !== "avoid").length);
      assert.equal(loose, 0, `${file}: a row or a figure may be cut by the end of a sheet`);
      const [least, most] = sheetsOf[basename(file).split(/[-.]/)[0]];
      const sheets = sheetsIn(await page.pdf({ format: paper, preferCSSPageSize: card, printBackground: true }));
      assert.ok(sheets >= least && sheets <= most, `${file}: ${sheets} sheets`);
      await page.close();
    }
  });

test("the card of six set-ups is one sheet of A5", async () => {
  const { page } = await open(fullCard(), Math.floor(a5 * pixelsOfMillimetre));
  assert.equal(sheetsIn(await page.pdf({ preferCSSPageSize: true, printBackground: true })), 1);
  assert.equal(await page.locator("section table").first().locator("tbody tr").count(), 6);
  await page.close();
});
