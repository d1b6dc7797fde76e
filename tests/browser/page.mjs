// A report in a real browser: node page.mjs REPORT.html EXPECTED.json FOLDER
// No error, no request, play moves the movie, the last snapshot is the recorded one, keyboard and tables work; screenshots.
import { chromium } from "playwright-core";
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { join } from "node:path";
import assert from "node:assert/strict";

const [page_path, expected_path, folder] = process.argv.slice(2);
const expected = JSON.parse(readFileSync(expected_path, "utf8"));
const browser = await chromium.launch({
  executablePath: process.env.SLENDERJET_CHROMIUM || "/usr/bin/chromium",
  args: [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
  ],
});
const problems = [];

async function open(options) {
  const context = await browser.newContext(options);
  const page = await context.newPage();
  page.on("console", (m) => { if (["error", "warning"].includes(m.type())) problems.push(m.text()); });
  page.on("pageerror", (e) => problems.push(String(e)));
  page.on("dialog", async (d) => { problems.push("dialog: " + d.message()); await d.dismiss(); });
  page.on("request", (r) => { if (!/^(file|data|about):/.test(r.url())) problems.push("request: " + r.url()); });
  await page.goto(pathToFileURL(page_path).href);
  await page.waitForLoadState("load");
  await page.evaluate(() => document.fonts.ready);
  return page;
}
const shot = (page, name, full = false) => page.screenshot({ path: join(folder, `${expected.name}-${name}.png`), fullPage: full });

const page = await open({ viewport: { width: 1280, height: 900 }, colorScheme: "light" });
assert.equal(await page.title(), expected.title);
assert.equal(await page.locator("h1").textContent(), expected.title);
await shot(page, "wide", true);

if (expected.movies) {
  const canvas = page.locator("canvas").first();
  const index = () => canvas.evaluate((c) => Number(c.dataset.frame));
  const pixels = () => canvas.evaluate((c) => c.toDataURL());
  assert.equal(await page.locator("canvas").count(), expected.movies);
  // It opens at a break-up: what came off is there, and was not a snapshot before.
  const opening = await index();
  const state = () => canvas.evaluate((c) => [Number(c.dataset.time), Number(c.dataset.bodies)]);
  const [time, bodies] = await state();
  assert.equal(time, expected.opening, "opens at the break-up");
  await page.keyboard.press("ArrowLeft"); // nothing has the focus
  const [before_time, before_bodies] = await state();
  assert.equal(await index(), opening - 1, "keys work without focus");
  assert.ok(before_time < time && before_bodies < bodies, `whole before, broken at it: ${before_bodies} and ${bodies} bodies`);

  // Played from just before it, the movie shows it break: the burst's snapshots pass one by one, in their own time.
  const slow = page.locator("[data-do=speed]").first();
  await slow.evaluate((s) => { s.value = s.min; s.dispatchEvent(new Event("input")); });
  await page.locator("[data-do=play]").first().click();
  for (let tries = 0; tries < 200 && (await state())[1] < bodies; tries++) await page.waitForTimeout(25);
  assert.ok((await state())[1] >= bodies, "the movie plays the break-up");
  await page.locator("[data-do=play]").first().click();
  await slow.evaluate((s) => { s.value = 0; s.dispatchEvent(new Event("input")); });
  await page.locator("canvas").first().evaluate(() => dispatchEvent(new Event("beforeprint")));
  assert.equal((await state())[0], expected.opening, "printed at the break-up");
  await page.locator("canvas").first().evaluate(() => dispatchEvent(new Event("afterprint")));

  // The time line is true in time.
  const at = await canvas.evaluate((c) => [c.movie.times[0], c.movie.times[c.movie.times.length - 1]]);
  await page.locator(".line input").first().evaluate((s) => { s.value = 5000; s.dispatchEvent(new Event("input")); });
  const nearest = await canvas.evaluate((c, middle) => Math.min(...c.movie.times.map((t) => Math.abs(t - middle))), 0.5 * (at[0] + at[1]));
  assert.ok(Math.abs((await state())[0] - 0.5 * (at[0] + at[1])) <= nearest * 1.0001, "half-way along the line is half-way in time");
  await page.keyboard.press("Home");
  assert.equal(await index(), 0);

  // Play moves the movie and the picture with it.
  const before = await pixels();
  await page.locator("[data-do=play]").first().click();
  // The page's policy forbids the evaluation of strings, which waitForFunction needs: so look again and again.
  for (let tries = 0; tries < 100 && (await index()) <= 2; tries++) await page.waitForTimeout(50);
  assert.ok((await index()) > 2, "play moves the movie");
  await page.locator("[data-do=play]").first().click();
  assert.notEqual(await pixels(), before, "the picture moved");
  const stopped = await index();
  await page.waitForTimeout(400);
  assert.equal(await index(), stopped, "pause holds");

  // Keyboard.
  await canvas.focus();
  await page.keyboard.press("Home");
  assert.equal(await index(), 0);
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowRight");
  assert.equal(await index(), 2);
  await page.keyboard.press("ArrowLeft");
  assert.equal(await index(), 1);
  await page.keyboard.press("n");
  const at_breakup = await canvas.evaluate((c) => [c.movie.times[Number(c.dataset.frame) - 1], Number(c.dataset.time), c.movie.breakups[0]]);
  if (at_breakup[2]) assert.ok(at_breakup[0] < at_breakup[2][0] && at_breakup[1] >= at_breakup[2][0], "N goes to the breakup");
  const pace = await page.locator(".speed").first().textContent();
  await page.keyboard.press("+");
  assert.notEqual(await page.locator(".speed").first().textContent(), pace, "the pace changes");
  await page.keyboard.press("Space");
  assert.equal(await page.locator("[data-do=play]").first().getAttribute("aria-pressed"), "true");
  await page.keyboard.press("Space");
  await page.keyboard.press("End");
  assert.equal(await page.locator(".breakups").first().locator("line").count(), expected.breakups, "marks on the time line");

  // The last snapshot is the recorded one as figures draw it, to the movie's own step.
  const last = await canvas.evaluate((c) => {
    const i = Number(c.dataset.frame), bodies = c.movie.snapshot(i);
    return { time: Number(c.dataset.time), bodies: bodies.map((b) => [[...b.z], [...b.h]]), from: c.movie.from, to: c.movie.to, rim: c.movie.rim };
  });
  assert.equal(last.time, expected.last.time);
  const along = (last.to - last.from) / 65535, across = last.rim / 65535;
  const seen = expected.last.bodies.filter(([z]) => z[0] < last.to);
  assert.equal(last.bodies.length, seen.length, "bodies of the last snapshot");
  // Each point of an outline lies between the recorded nodes about it, to two hundredths of the window's half width.
  last.bodies.forEach(([z, h], b) => z.forEach((place, k) => {
    if (place > last.to - 2 * along) return;
    const [rz, rh] = seen[b], slack = across + 0.02 * last.rim;
    const between = rz.some((a, i) => i > 0 && place >= rz[i - 1] - along && place <= a + along
      && h[k] >= Math.min(rh[i - 1], rh[i]) - slack && h[k] <= Math.max(rh[i - 1], rh[i]) + slack);
    assert.ok(between, `point ${k} of body ${b} is on what was recorded`);
  }));
  await shot(page, "last");

  // A link to a snapshot opens there.
  const linked = await open({ viewport: { width: 800, height: 600 } });
  await linked.goto("about:blank");
  await linked.goto(pathToFileURL(page_path).href + "#snapshot=3");
  assert.equal(await linked.locator("canvas").first().evaluate((c) => Number(c.dataset.frame)), 3);
  await linked.context().close();
}

// Tables sort by value, both ways.
for (const table of await page.locator("table.sortable").all()) {
  const heading = table.locator("thead button").nth(expected.sort_column);
  const column = () => table.evaluate((t, c) => [...t.tBodies[0].rows].map((r) => Number(r.cells[c].dataset.key)).filter((v) => !Number.isNaN(v)), expected.sort_column);
  await heading.click();
  const up = await column();
  assert.deepEqual(up, [...up].sort((a, b) => a - b));
  await heading.click();
  assert.deepEqual(await column(), [...up].reverse());
  assert.equal(await table.locator("thead th").nth(expected.sort_column).getAttribute("aria-sort"), "descending");
}

// Labels, headings, contrast of what is read.
const unnamed = await page.evaluate(() => {
  const named = (e) => e.getAttribute("aria-label") || e.textContent.trim() || e.closest("label");
  return [...document.querySelectorAll("button, input, canvas, svg[role=img], [role=region]")].filter((e) => !named(e)).map((e) => e.outerHTML.slice(0, 80));
});
assert.deepEqual(unnamed, []);
for (const scheme of ["light", "dark"]) {
  const themed = await open({ viewport: { width: 1280, height: 900 }, colorScheme: scheme, reducedMotion: "reduce" });
  const poor = await themed.evaluate(() => {
    const parse = (c) => { const m = c.match(/[\d.]+/g).map(Number); return m.length > 3 && m[3] === 0 ? null : m.slice(0, 3); };
    const light = (c) => {
      const [r, g, b] = c.map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4)));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ground = (e) => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c) return c; } return [255, 255, 255]; };
    const list = [];
    for (const e of document.querySelectorAll("p, li, dt, dd, th, td, a, button, output, h1, h2, figcaption, small, pre, caption, summary")) {
      if (e.closest(".skip") || !e.textContent.trim()) continue;
      const [a, b] = [light(parse(getComputedStyle(e).color)), light(ground(e))];
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < 4.5) list.push(`${e.tagName} ${ratio.toFixed(2)} ${e.textContent.trim().slice(0, 40)}`);
    }
    return list;
  });
  assert.deepEqual(poor, [], `contrast in the ${scheme} scheme (WCAG 2.2, 1.4.3: 4.5 to 1)`);
  // Nothing moves by itself, and nothing glides where the reader asked for little motion.
  assert.equal(await themed.evaluate(() => getComputedStyle(document.documentElement).scrollBehavior), "auto");
  const at_rest = () => themed.evaluate(() => [...document.querySelectorAll("canvas")].map((c) => c.dataset.frame).join());
  const first = await at_rest();
  await themed.waitForTimeout(300);
  assert.equal(await at_rest(), first, "no movie plays unasked");
  await shot(themed, scheme);
  await themed.context().close();
}

// A phone: nothing but what may scroll by itself is wider than the screen.
const phone = await open({ viewport: { width: 375, height: 740 }, deviceScaleFactor: 2, isMobile: true, hasTouch: true });
const wide = await phone.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
assert.ok(wide <= 0, `the page is ${wide} px wider than a phone`);
await shot(phone, "phone", true);

assert.deepEqual(problems, []);
await browser.close();
console.log(`${expected.name}: the page works`);
