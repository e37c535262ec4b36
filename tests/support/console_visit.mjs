// Three people visit a training console in a browser: an instructor, an operator and an observer.
//   node console_visit.mjs PLAYWRIGHT ADDRESS MEASURES FAULT SET_POINT VALUE
// Prints what they saw as JSON on one line; a step that fails says so under "error", with what came before it.
import { readFileSync } from "node:fs";

const [driver, address, measures, fault, setPoint, value] = process.argv.slice(2);
const { chromium } = await import(driver);
const seen = { complaints: [] };
const WAIT = 60000;  // ms: a loaded machine may take its time

const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });

async function visitor(role) {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  const page = await context.newPage();
  page.setDefaultTimeout(WAIT);
  page.on("console", (message) => { if (["error", "warning"].includes(message.type())) seen.complaints.push(`${role}: ${message.text()}`); });
  page.on("pageerror", (error) => seen.complaints.push(`${role}: ${error.message}`));
  page.on("request", (request) => { if (!request.url().startsWith(address)) seen.complaints.push(`${role} asked ${request.url()}`); });
  await page.goto(`${address}/?role=${role}`, { waitUntil: "domcontentloaded" });
  await page.waitForSelector("#margins tbody tr");
  return page;
}

const minutes = (text) => {
  const found = /after (?:(\d+) h )?(?:(\d+) min)?(?: ?(\d+) s)?/.exec(text);
  return found ? 60 * Number(found[1] ?? 0) + Number(found[2] ?? 0) + Number(found[3] ?? 0) / 60 : NaN;
};
const now = async (page) => minutes(await page.textContent(".facts"));

/** Everything that waits until the browser has painted comes 2 s late, until paintAsBefore is called. */
const paintLate = (page) => page.evaluate(() => {
  const { requestAnimationFrame, setTimeout } = window;
  window.requestAnimationFrame = (call) => setTimeout(() => call(performance.now()), 2000);
  window.setTimeout = (call, wait = 0, ...rest) => setTimeout(call, wait <= 100 ? wait + 2000 : wait, ...rest);
  window.paintAsBefore = () => Object.assign(window, { requestAnimationFrame, setTimeout });
});
const paintAsBefore = (page) => page.evaluate(() => window.paintAsBefore());

/** Widths, themes: nothing runs off the page, no words meet, text stands out from its ground. */
async function look(page) {
  const text = readFileSync(measures, "utf8");
  const looks = [];
  for (const [width, colorScheme] of [[1400, "light"], [1280, "dark"], [1024, "light"], [820, "dark"], [390, "light"]]) {
    await page.setViewportSize({ width, height: 900 });
    await page.emulateMedia({ colorScheme });
    await page.waitForTimeout(150);
    await page.evaluate(text);
    const { overflow, overlaps, contrast, dark } = JSON.parse(await page.evaluate(() => document.documentElement.dataset.measures));
    looks.push({ width, dark, overflow, overlaps, contrast });
  }
  await page.setViewportSize({ width: 1400, height: 900 });
  return looks;
}

try {
  const instructor = await visitor("instructor");
  const operator = await visitor("operator");
  const observer = await visitor("observer");
  seen.paint = await operator.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? -1);

  // The run starts; the instructor injects a fault.
  const speed = instructor.locator("#instructor select").first();
  if (await instructor.getByRole("button", { name: "Go", exact: true }).count())
    await instructor.getByRole("button", { name: "Go", exact: true }).click();
  await operator.waitForFunction(() => /Running/.test(document.querySelector(".facts").textContent));
  await speed.selectOption("60");
  await operator.waitForFunction(() => /after (\d+ h|[2-9]\d* min)/.test(document.querySelector(".facts").textContent));
  await speed.selectOption("20");
  const instructorPanel = instructor.locator("#instructor fieldset", { hasText: "Inject" });
  await instructorPanel.locator("select").first().selectOption({ label: fault });
  await instructorPanel.getByLabel("ramp").fill("5");
  await instructorPanel.getByRole("button", { name: "Inject" }).click();
  await instructor.waitForSelector("#instructor .plain-list >> text=Clear");

  // The alarm is received, said aloud, acknowledged by its key.
  await operator.waitForSelector(".alarm-line .alarm-mark.waits");
  await speed.selectOption("1");  // however slow this machine is, the plant is still in this minute at the end of the visit
  seen.alarm = await operator.textContent(".alarm-line strong");
  await operator.waitForFunction(() => document.querySelector("[role=alert].unseen").textContent !== "");
  seen.spoken = await operator.textContent("[role=alert].unseen");
  await operator.locator("body").press("a");
  await operator.waitForFunction((title) => [...document.querySelectorAll("#alarms .alarm")]
    .some((row) => row.textContent.includes(title) && !row.classList.contains("waits")), seen.alarm);
  seen.acknowledged = true;

  // The operator acts: a value outside its limits is refused on the spot, another is confirmed and taken.
  const command = operator.locator(`[data-command="${setPoint}"]`);
  await command.locator("input").fill("1e9");
  await command.locator("input").press("Enter");
  seen.outside = await command.locator("[role=alert]").textContent();
  // A question keeps the focus where the operator moves it, however many frames come, and gives it back.
  const focused = () => operator.evaluate(() => document.activeElement.id || document.activeElement.textContent);
  await command.locator("input").fill(value);
  await command.locator("input").press("Enter");
  seen.focusAsked = await focused();
  await operator.keyboard.press("Tab");
  await operator.waitForTimeout(1500);
  seen.focusMoved = await focused();
  await operator.keyboard.press("Enter");
  await command.locator("input").waitFor();
  await operator.waitForFunction(() => document.activeElement.textContent === "Set");
  seen.focusBack = await focused();
  await command.locator("input").fill(value);
  await command.locator("input").press("Enter");
  await command.locator(".confirm button").first().press("Enter");
  await operator.waitForFunction(([name, text]) =>
    Number.parseFloat(document.querySelector(`[data-command="${name}"] output`).textContent) === Number(text), [setPoint, value]);
  seen.acted = true;
  seen.refused = await operator.locator(".mode[aria-disabled=true]:not(.in-force)").count();
  seen.reasons = await operator.locator(".command .why").allTextContents();

  // Text stays text; a reload loses nothing.
  const script = "<img src=x onerror=document.title='run'> &amp;";
  await operator.locator("body").press("n");
  await operator.keyboard.type(script);
  await operator.keyboard.press("Enter");
  await observer.waitForSelector("#log .of-note");
  seen.note = (await observer.locator("#log .of-note .entry").first().textContent()).includes(script)
    && await observer.locator("#log img").count() === 0;
  await instructor.getByRole("button", { name: "Freeze", exact: true }).click();
  await operator.waitForFunction(() => /Frozen/.test(document.querySelector(".facts").textContent));
  const entries = () => operator.locator("#log .log li").count();
  await operator.waitForTimeout(500);
  const before = await entries();
  await operator.reload({ waitUntil: "domcontentloaded" });
  await operator.waitForFunction((n) => document.querySelectorAll("#log .log li").length >= n, before);
  seen.kept = await entries() === before;

  // A fault that waits for its condition; what trainees see, beside what is.
  await instructorPanel.getByLabel("when").fill("bus_voltage_reading < 1 parsec");
  await instructorPanel.getByRole("button", { name: "Inject" }).click();
  seen.unknownUnit = await instructor.locator("#instructor > p[role=alert]").textContent();
  await instructorPanel.getByLabel("when").fill("always for 5 min (bus_voltage_reading < 10 V)");
  await instructorPanel.getByRole("button", { name: "Inject" }).click();
  await instructor.waitForSelector("#instructor .plain-list >> text=waits until");
  await paintLate(instructor);  // the run is frozen: what comes before the first painting comes once
  await instructor.getByRole("button", { name: "Show what the trainees see" }).click();
  await instructor.waitForSelector("#beside tbody tr");
  await instructor.waitForSelector("#alarms .alarm");
  await paintAsBefore(instructor);
  seen.beside = await instructor.locator("#beside tbody tr").allTextContents();
  seen.besideActs = await instructor.locator("#instructor, #commands .act, #alarms .act").count();
  seen.besideLooks = await look(instructor);
  await instructor.getByRole("button", { name: "Show the instructor's panel" }).click();
  await instructor.waitForSelector("#instructor");
  seen.marks = await operator.locator("#trends [role=img]").first().getAttribute("aria-label");

  // What each role may do.
  seen.observerButtons = await observer.locator("#alarms .act, #commands .act, #log .act, #instructor").count();
  seen.observerPost = await observer.evaluate(() => fetch("/api/command", { method: "POST",
    headers: { "Content-Type": "application/json", "X-Duskline": "1" }, body: "{\"name\":\"x\"}" }).then((a) => a.status));
  seen.operatorFaults = await operator.evaluate(() => fetch("/api/plant").then((a) => a.json()).then((p) => (p.faults ?? []).length));
  seen.complaints = seen.complaints.filter((text) => !/observer: .*\b403\b|instructor: .*\b422\b/.test(text));  // the refusals just asked for

  // Keys: the list of keys, the way to a panel, the visible focus.
  await paintLate(operator);  // the list is there at once, so that the next key finds it
  await operator.locator("body").press("?");
  seen.keys = await operator.locator("dialog[open] kbd").count();
  await operator.keyboard.press("Escape");
  await paintAsBefore(operator);
  await operator.waitForSelector("dialog[open]", { state: "detached" });
  await operator.locator("body").press("5");
  seen.focus = await operator.evaluate(() => document.activeElement.id);
  await operator.keyboard.press("Tab");
  seen.outline = await operator.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
  seen.looks = await look(operator);
  seen.unnamed = await operator.evaluate(() => [...document.querySelectorAll("button, input, select, [role=img]")]
    .filter((n) => !(n.textContent.trim() || n.getAttribute("aria-label") || n.labels?.length)).map((n) => n.outerHTML.slice(0, 80)));

  // An earlier minute, and the end.
  const late = await now(instructor);
  const facts = await instructor.textContent(".facts");
  await instructor.getByRole("button", { name: "back 1 min", exact: true }).click();
  await instructor.waitForFunction((text) => document.querySelector(".facts").textContent !== text, facts);
  seen.back = late - await now(instructor);
  await instructor.getByRole("button", { name: "Finish", exact: true }).click();
  await instructor.getByRole("button", { name: "Confirm", exact: true }).click();
  await operator.getByRole("link", { name: "Read the debrief" }).click();
  await operator.waitForSelector("h1");
  seen.debrief = await operator.textContent("h1");
} catch (error) {
  seen.error = error.message;
  for (const context of browser.contexts())
    for (const page of context.pages()) console.error(`---- ${page.url()}\n${await page.innerText("body").catch(String)}`);
}
await browser.close();
console.log(JSON.stringify(seen));
