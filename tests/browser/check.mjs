// Opens documents in a browser and checks what a person would: node check.mjs REPORT PAGED LAYOUTS [SCREENSHOTS]
//
// REPORT is a report of several plans, PAGED one of a single plan printed with one layout a page, LAYOUTS what `nest`
// writes. Each check prints a line; the exit code is 1 if any of them failed.

import fs from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { chromium } from 'playwright-core';

const axe = fs.readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const [report, paged, layouts, screenshots] = process.argv.slice(2).map((file) => path.resolve(file));
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync'];
const MOST_BYTES = 10_000_000;
const MOST_MILLISECONDS = 2000;

let passed = 0;
let failed = 0;
function check(name, isRight, told = '') {
  isRight ? (passed += 1) : (failed += 1);
  if (!isRight) { console.log(`FAILED ${name}${told ? `: ${told}` : ''}`); }
}

// The driver makes a new, empty profile at each launch.
const browser = await chromium.launch({
  executablePath: process.env.CUTBILL_CHROMIUM ?? '/usr/bin/chromium', headless: true, args: FLAGS,
});

async function open(file, options = {}) {
  const context = await browser.newContext(options);
  const page = await context.newPage();
  page.faults = [];
  page.on('console', (line) => { if (line.type() === 'error' || line.type() === 'warning') { page.faults.push(line.text()); } });
  page.on('pageerror', (error) => page.faults.push(error.message));
  page.on('request', (request) => { if (!request.url().startsWith('file:') && !request.url().startsWith('data:')) { page.faults.push(`asks for ${request.url()}`); } });
  const begun = Date.now();
  await page.goto(`file://${file}`, { waitUntil: 'load' });
  // Without script nothing tells when the first picture stands.
  if (options.javaScriptEnabled !== false) {
    await page.evaluate(() => new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); }));
  }
  page.milliseconds = Date.now() - begun;
  return page;
}

/** Returns the texts of a column of the rows that are shown. */
const column = (page, table, index) => page.$$eval(`${table} tbody tr`, (rows, at) =>
  rows.filter((row) => !row.hidden).map((row) => row.cells[at].textContent.trim()), index);
const number = (text) => Number(text.replaceAll(',', ''));

async function opensQuietly() {
  for (const file of [report, paged, layouts]) {
    const page = await open(file);
    const name = path.basename(file);
    check(`${name}: no console error, no request`, page.faults.length === 0, page.faults.join('; '));
    check(`${name}: is small`, fs.statSync(file).size < MOST_BYTES, `${fs.statSync(file).size} bytes`);
    check(`${name}: opens soon`, page.milliseconds < MOST_MILLISECONDS, `${page.milliseconds} ms`);
    console.log(`${name}: ${fs.statSync(file).size} bytes, opens in ${page.milliseconds} ms`);
    await page.context().close();
  }
}

async function sorts(page) {
  const titles = await page.$$eval('#summary-1 thead th', (all) => all.map((title) => title.textContent.trim()));
  const index = titles.findIndex((title) => title.startsWith('cost'));
  const before = (await column(page, '#summary-1', index)).map(number);
  const button = page.locator('#summary-1 thead th').nth(index).locator('[role=button]');
  await button.focus();
  await page.keyboard.press('Enter');
  const up = (await column(page, '#summary-1', index)).map(number);
  check('sort by keyboard, upward', String(up) === String([...before].sort((a, b) => a - b)), String(up));
  await button.click();
  const down = (await column(page, '#summary-1', index)).map(number);
  check('sort by click, downward', String(down) === String([...before].sort((a, b) => b - a)), String(down));
  check('sort is told', await page.locator('#summary-1 thead th').nth(index).getAttribute('aria-sort') === 'descending');
  await page.locator('#summary-1 thead th').first().locator('[role=button]').click();
  const names = await column(page, '#summary-1', 0);
  check('sort by words', String(names) === String([...names].sort((a, b) => a.localeCompare(b, 'en'))), String(names));
}

async function filters(page) {
  const box = page.locator('.table:has(#layouts-1)');
  const all = await column(page, '#layouts-1', 1);
  const word = all[0];
  const expected = await page.$$eval('#layouts-1 tbody tr', (rows, asked) =>
    rows.filter((row) => row.textContent.toLowerCase().includes(asked.toLowerCase())).length, word);
  await box.locator('input[type=search]').fill(word);
  await page.waitForTimeout(300);
  const kept = await column(page, '#layouts-1', 1);
  check('filter', kept.length === expected && expected > 0 && expected < all.length, `${kept.length} of ${expected}`);
  check('filter tells its count', (await box.locator('[role=status]').textContent()).startsWith(`${expected} of ${all.length}`));
  await box.locator('input[type=search]').fill('');
  await page.waitForTimeout(300);
  check('filter is undone', (await column(page, '#layouts-1', 1)).length === all.length);
  await page.fill('#search', `${word} layout`);
  await page.waitForTimeout(400);
  const cards = await page.$$eval('.card', (some) => some.map((card) => [card.hidden, card.textContent.toLowerCase()]));
  const isRight = ([hidden, text]) => hidden !== (text.includes(word.toLowerCase()) && text.includes('layout'));
  check('search shows the layouts that hold the words', cards.every(isRight) && cards.some(([hidden]) => !hidden));
  await page.fill('#search', '');
  await page.waitForTimeout(400);
  check('search is undone', (await page.$$eval('.card[hidden], tbody tr[hidden]', (some) => some.length)) === 0);
}

/** Returns every figure that has a unit: what it shows, in which unit, and its exact value. */
const figures = (page) => page.evaluate(() => {
  const found = [];
  for (const node of document.querySelectorAll('[data-mm]')) { found.push(['mm', node.textContent, node.dataset.mm]); }
  for (const node of document.querySelectorAll('[data-lb]')) { found.push(['lb', node.textContent, node.dataset.lb]); }
  for (const table of document.querySelectorAll('table')) {
    const units = [...table.tHead.rows[0].cells].map((title) => title.dataset.u ?? '');
    for (const row of table.querySelectorAll('tbody tr')) {
      [...row.cells].forEach((cell, index) => { if (units[index]) { found.push([units[index], cell.textContent.trim(), '']); } });
    }
  }
  return found;
});

/** By how much a figure is multiplied, and by how much it is divided: lb to kg, kg to lb, in to mm, ft to m, ft2 to m2. */
const FACTORS = { lb: [45359237n, 100000000n], kg: [100000000n, 45359237n], in: [254n, 10n], ft: [3048n, 10000n], ft2: [9290304n, 100000000n] };

/** Tells whether a figure is the other one times a factor, rounded to the places it shows. */
function isConverted(text, from, [times, over]) {
  const exact = (figure) => {
    const [whole, part = ''] = figure.replaceAll(',', '').split('.');
    return [BigInt(whole + part), part.length];
  };
  const [value, places] = exact(from);
  const [shown, shownPlaces] = exact(text);
  const least = 10n ** BigInt(places) * over;
  const error = value * times * 10n ** BigInt(shownPlaces) - shown * least;
  return (error < 0n ? -error : error) * 2n <= least;
}

async function switches(page) {
  const before = await figures(page);
  await page.check('input[name=length][value=other]');
  await page.check('input[name=weight][value=other]');
  const after = await figures(page);
  const wrong = before.filter(([unit, text, exact], index) => {
    const shown = after[index][1];
    if (unit === 'mm') {
      // Texts that were metric in the book stay; others show each side to a tenth.
      const sides = exact.split(' ').map((side) => String(Math.round(Number(side) * 10) / 10));
      return / mm$/.test(text) ? shown !== text : !sides.every((side) => shown.includes(side));
    }
    if (unit === 'lb' && exact) {
      return !isConverted(shown.match(/-?[\d,.]+/)[0], exact, FACTORS.lb);
    }
    if (!/^[+-]?[\d,.]+$/.test(text)) { return shown !== text; }
    return !isConverted(shown.replace('+', ''), text.replace('+', ''), FACTORS[unit]);
  });
  check('units: there are figures of every kind', new Set(before.map(([unit]) => unit)).size > 3);
  check('units: every figure is converted', wrong.length === 0, `${wrong.length} of ${before.length}, as ${JSON.stringify(wrong[0])}`);
  console.log(`units: ${before.length} figures converted`);
  const titles = await page.$$eval('[data-unit]', (all) => all.map((node) => node.textContent));
  check('units: titles follow', titles.length > 0 && !titles.some((unit) => ['in', 'ft', 'ft2'].includes(unit)));
  await page.check('input[name=length][value=book]');
  await page.check('input[name=weight][value=book]');
  check('units: and back', JSON.stringify(await figures(page)) === JSON.stringify(before));
}

async function readsWithoutScript() {
  const page = await open(report, { javaScriptEnabled: false });
  check('without script: no controls', !(await page.locator('.controls').isVisible()));
  const hidden = await page.locator('section:visible').count();
  check('without script: all pages are there', hidden === await page.locator('section').count() && hidden > 6);
  check('without script: tables are there', await page.locator('#summary-1 tbody tr').first().isVisible());
  await page.context().close();
}

async function fitsPhones() {
  const page = await open(report, { viewport: { width: 390, height: 800 } });
  const width = await page.evaluate(() => document.documentElement.scrollWidth);
  check('phone: only boxes scroll aside', width <= 390, `${width} px`);
  await page.context().close();
}

/** Room on a page in pixels, upright and lying, less the margins of the style sheet. */
const PAPERS = {
  Letter: { upright: [816 - 91, 1056 - 91], lying: 1056 - 76 },
  A4: { upright: [794 - 91, 1123 - 91], lying: 1123 - 76 },
};

async function prints() {
  for (const [format, { upright: [width, height], lying }] of Object.entries(PAPERS)) {
    for (const file of [paged, report]) {
      const page = await open(file, { viewport: { width, height } });
      await page.emulateMedia({ media: 'print' });
      const cut = await page.evaluate(([wide, tall]) => {
        const lies = (node) => { const box = node.getBoundingClientRect(); return box.right > wide + 1 || box.height > tall; };
        return [...document.querySelectorAll('svg.drawing, svg.chart')].filter(lies).length;
      }, [width, height]);
      check(`${format}: no drawing is cut off`, cut === 0, `${cut} in ${path.basename(file)}`);
      const tables = (selector, most) => page.evaluate(([what, wide]) => [...document.querySelectorAll(what)]
        .filter((table) => table.getBoundingClientRect().right > wide + 1).map((table) => table.caption.textContent), [selector, most]);
      const over = await tables('table:not(.wide, .cuts)', width);
      // Long lists of cuts run on in further columns.
      const lists = await page.$$eval('.cutlist', (all) => all.filter((list) => list.scrollWidth > list.clientWidth + 1).length);
      check(`${format}: no list of cuts is cut off`, lists === 0, `${lists}`);
      check(`${format}: no table is cut off`, over.length === 0, over.join('; '));
      await page.setViewportSize({ width: lying, height });
      const beyond = await tables('table.wide', lying);
      check(`${format}: no wide table is cut off`, beyond.length === 0, beyond.join('; '));
      if (file === paged) {
        const pdf = (await page.pdf({ format, printBackground: true })).toString('latin1');
        const pages = pdf.match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
        const cards = await page.locator('.card').count();
        check(`${format}: a page for each layout at least`, pages > cards && cards > 0, `${pages} pages, ${cards} layouts`);
        console.log(`${format}: ${pages} pages for ${cards} layouts`);
      }
      await page.context().close();
    }
  }
}

async function isAccessible() {
  for (const colorScheme of ['light', 'dark']) {
    for (const file of [paged, layouts]) {
      const page = await open(file, { colorScheme });
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
      const grave = violations.filter(({ impact }) => ['serious', 'critical'].includes(impact));
      const told = grave.map(({ id, nodes }) => `${id} (${nodes.length}, as ${nodes[0].html.slice(0, 120)})`).join('; ');
      check(`axe, ${colorScheme}, ${path.basename(file)}: no grave fault`, grave.length === 0, told);
      console.log(`axe, ${colorScheme}, ${path.basename(file)}: ${violations.length} lesser or grave faults`);
      await page.context().close();
    }
  }
}

async function takesScreenshots() {
  if (!screenshots) { return; }
  fs.mkdirSync(screenshots, { recursive: true });
  const views = [
    ['summary', '#main', 1200, 'light'], ['loads', '#loads', 1200, 'light'], ['layout', '#layout-14', 1200, 'light'],
    ['orders', '#orders', 1200, 'dark'], ['swaps', '#swaps', 1200, 'light'], ['phone', '#layout-14', 390, 'light'],
  ];
  for (const [name, anchor, width, colorScheme] of views) {
    const page = await open(report, { viewport: { width, height: 820 }, colorScheme });
    if (name !== 'summary') { await page.locator(anchor).evaluate((node) => node.scrollIntoView()); }
    await page.waitForTimeout(200);
    const file = path.join(screenshots, `${name}.png`);
    await page.screenshot({ path: file });
    check(`screenshot ${name}`, fs.statSync(file).size > 5000);
    await page.context().close();
  }
}

try {
  await opensQuietly();
  const page = await open(report);
  await sorts(page);
  await filters(page);
  await switches(page);
  check('nothing failed on the way', page.faults.length === 0, page.faults.join('; '));
  await readsWithoutScript();
  await fitsPhones();
  await prints();
  await isAccessible();
  await takesScreenshots();
} finally {
  await browser.close();
}
console.log(`browser: ${passed} checks passed, ${failed} failed`);
process.exitCode = failed > 0 ? 1 : 0;
