// Opens pages in Chromium and prints what it found in them as JSON.
//
//   node browser_run.js <folder of the installed client> < job.json
//
// A job is {"address", "folder", "views": [...]}; a view is a path with its body (sent by POST when
// there is one), width, height, colour scheme, and what to do: "print" writes A4, "tab" walks
// through the controls, "type" fills the form by the keyboard and sends it with Enter.
"use strict";

const fs = require("fs");
const path = require("path");

const installed = path.join(path.resolve(process.argv[2]), "node_modules");
const { chromium } = require(path.join(installed, "playwright-core"));
const axe = fs.readFileSync(path.join(installed, "axe-core", "axe.min.js"), "utf8");

const QUIET = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];
const RULES = { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] };

// Runs inside the page: its size, its bare structure, and texts that are cut off.
function measured() {
  const root = document.documentElement;
  const shown = (element) => element.getClientRects().length > 0;
  const clipped = [...document.querySelectorAll("body *")]
    .filter((element) => shown(element) && getComputedStyle(element).overflowX !== "visible")
    .filter((element) => !["IFRAME", "PRE", "INPUT", "SELECT"].includes(element.tagName))
    .filter((element) => element.scrollWidth > element.clientWidth + 1)
    .map((element) => element.tagName + ": " + element.textContent.slice(0, 60));
  return {
    width: root.clientWidth,
    needed: root.scrollWidth,
    clipped,
    title: document.title,
    lang: root.lang,
    headings: [...document.querySelectorAll("h1")].map((each) => each.textContent),
    main: document.querySelectorAll("main").length,
    unscoped: [...document.querySelectorAll("th:not([scope])")].map((each) => each.textContent),
    unlabelled: [...document.querySelectorAll("input, select, textarea")]
      .filter((each) => !each.labels || each.labels.length === 0)
      .map((each) => each.name || each.outerHTML.slice(0, 80)),
    controls: [...document.querySelectorAll("a[href], input, select, textarea, button, summary")].filter(
      (each) => each.tagName === "SUMMARY" || each.closest("details:not([open])") === null,
    ).length,
    background: getComputedStyle(document.body || root).backgroundColor,
  };
}

// Runs inside a picture: its words, texts that leave it, and texts that lie on each other.
function pictured() {
  const root = document.documentElement;
  const frame = root.getBoundingClientRect();
  const texts = [...document.querySelectorAll("text")].map((element) => ({
    words: element.textContent,
    size: parseFloat(getComputedStyle(element).fontSize),
    box: element.getBoundingClientRect(),
  }));
  const outside = texts.filter(
    ({ box }) =>
      box.left < frame.left || box.top < frame.top || box.right > frame.right || box.bottom > frame.bottom,
  );
  const apart = (a, b) =>
    a.right <= b.left + 1 || b.right <= a.left + 1 || a.bottom <= b.top + 3 || b.bottom <= a.top + 3;
  const touching = [];
  texts.forEach((one, place) => {
    for (const other of texts.slice(place + 1)) {
      if (!apart(one.box, other.box)) touching.push([one.words, other.words]);
    }
  });
  const said = (name) => (document.querySelector(name) || { textContent: "" }).textContent;
  return {
    role: root.getAttribute("role"),
    title: said("title"),
    description: said("desc"),
    smallest: Math.min(...texts.map((each) => each.size)),
    outside: outside.map((each) => each.words),
    touching,
    ground: getComputedStyle(document.querySelector(".ground")).fill,
    ink: getComputedStyle(document.querySelector("text")).fill,
  };
}

function focused() {
  const element = document.activeElement;
  if (!element || element === document.body) return null;
  const box = element.getBoundingClientRect();
  const style = getComputedStyle(element);
  return {
    tag: element.tagName.toLowerCase(),
    name: element.getAttribute("name") || element.textContent.trim().slice(0, 60),
    outlined: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    visible: box.width > 0 && box.height > 0,
  };
}

// Chromium writes one such dictionary for each page, not compressed.
function pagesOf(pdf) {
  return (pdf.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g) || []).length;
}

async function walked(page, most) {
  const stops = [];
  for (let step = 0; step < most; step += 1) {
    await page.keyboard.press("Tab");
    const stop = await page.evaluate(focused);
    if (stop === null) break;
    stops.push(stop);
  }
  return stops;
}

async function typed(page, view) {
  for (const [name, text] of Object.entries(view.type)) {
    const field = page.locator(`[name="${name}"]`);
    await field.focus();
    if ((await field.evaluate((element) => element.tagName)) === "SELECT") {
      await page.keyboard.type(text);
    } else {
      await page.keyboard.press("Control+A");
      await page.keyboard.type(text);
    }
  }
  const frame = page.frame({ name: view.frame });
  const before = frame.url();
  await page.locator(`[name="${view.enter}"]`).focus();
  await page.keyboard.press("Enter");
  await page.waitForFunction(
    ([name, old]) => document.getElementsByName(name)[0].contentWindow.location.href !== old,
    [view.frame, before],
  );
  await frame.waitForLoadState("load");
  return { address: frame.url(), text: await frame.evaluate(() => document.body.innerText) };
}

async function seen(browser, job, view) {
  const context = await browser.newContext({
    viewport: { width: view.width || 1280, height: view.height || 900 },
    colorScheme: view.scheme || "light",
    deviceScaleFactor: view.scale || 1,
  });
  const page = await context.newPage();
  const said = [];
  const asked = [];
  page.on("console", (message) => message.type() === "error" && said.push(message.text()));
  page.on("pageerror", (error) => said.push(String(error)));
  page.on("request", (request) => asked.push(request.url()));
  const address = job.address + view.path;
  if (view.body !== undefined) {
    await page.route(address, (route) =>
      route.continue({
        method: "POST",
        postData: typeof view.body === "string" ? view.body : JSON.stringify(view.body),
        headers: { ...route.request().headers(), "content-type": view.kind || "application/json" },
      }),
    );
  }
  const answer = await page.goto(address, { waitUntil: "load" });
  const found = { name: view.name, status: answer.status(), headers: answer.headers() };
  if (view.tab) found.stops = await walked(page, 400);
  if (view.type) found.typed = await typed(page, view);
  if (view.open) await page.evaluate(() => document.querySelectorAll("details").forEach((each) => { each.open = true; }));
  const picture = view.path.includes(".svg");
  Object.assign(found, await page.evaluate(picture ? pictured : measured));
  if (view.look !== false) {
    await page.screenshot({
      path: path.join(job.folder, `${view.name}.png`),
      fullPage: view.full !== false,
      ...(picture ? { caret: "initial", animations: "allow", fullPage: false } : {}),
    });
  }
  if (view.print) {
    const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
    fs.writeFileSync(path.join(job.folder, `${view.name}.pdf`), pdf);
    found.pages = pagesOf(pdf);
    await page.emulateMedia({ media: "print", colorScheme: "dark" });
    await page.setViewportSize({ width: 703, height: 1032 });
    found.printed = await page.evaluate(picture ? pictured : measured);
    await page.emulateMedia({ media: "screen", colorScheme: view.scheme || "light" });
  }
  if (view.axe) {
    await page.evaluate(axe);
    const judged = await page.evaluate((rules) => window.axe.run(document, rules), RULES);
    found.violations = judged.violations.map((each) => ({
      rule: each.id,
      help: each.help,
      where: each.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)),
    }));
  }
  found.said = said;
  found.elsewhere = asked.filter((each) => !each.startsWith(job.address + "/") && !each.startsWith("data:"));
  await context.close();
  return found;
}

async function run() {
  const job = JSON.parse(fs.readFileSync(0, "utf8"));
  fs.mkdirSync(job.folder, { recursive: true });
  const browser = await chromium.launch({
    executablePath: process.env.VELAMEN_CHROMIUM || "/usr/bin/chromium",
    args: QUIET,
  });
  try {
    const views = [];
    for (const view of job.views) views.push(await seen(browser, job, view));
    process.stdout.write(JSON.stringify(views));
  } finally {
    await browser.close();
  }
}

run().catch((error) => {
  process.stderr.write(`${error.stack}\n`);
  process.exit(1);
});
