// The pages of the bench as this device last saw them, for when the shop's network is away. A kept page always says when it was seen.
// What is kept belongs to one device and one person: it goes when another signs in, when nobody does, or when the door is shut.
"use strict";

const SHELL = "hidewright-shell";
const KEPT = "hidewright-kept";
const WHO = "/kept-for";
const SHELL_FILES = ["app.css", "dark.css", "colour.css", "days.css", "mixing.css", "app.js", "taps.js", "each.js", "folds.js", "clocks.js", "mark.svg"];
const KEPT_PAGES = [
  /^\/$/,
  /^\/jobs\/\d+\/$/,
  /^\/jobs\/\d+\/days\/(\d{4}-\d\d-\d\d\/)?$/,
  /^\/jobs\/\d+\/mixing\/(\d+\/)?$/,
];
const MOST = 30; // pages kept at once; the oldest go first

const escaped = (text) => text.replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
const moment = (at) => new Date(at).toLocaleString([], { weekday: "long", day: "numeric", month: "long", hour: "2-digit", minute: "2-digit" });

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const shell = await caches.open(SHELL);
    await Promise.allSettled(SHELL_FILES.map((name) => shell.add(`/static/${name}`)));
    await self.skipWaiting();
  })());
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// Whose device this is now, in the server's words; another name than before clears what was kept.
const heard = async (answer) => {
  const who = answer.headers.get("Hidewright-Kept-For");
  if (!who) return false;
  const kept = await caches.open(KEPT);
  const before = await kept.match(WHO);
  if (!before || (await before.text()) !== who) {
    await caches.delete(KEPT);
    await (await caches.open(KEPT)).put(WHO, new Response(who));
  }
  return who !== "nobody";
};

const keep = async (path, answer) => {
  const html = (await answer.text()).replace(/<!--once-->[^]*?<!--\/once-->/g, "");
  if (!html.includes("<!--kept-->")) return;
  const kept = await caches.open(KEPT);
  const who = await kept.match(WHO);
  if (!who || (await who.text()) !== answer.headers.get("Hidewright-Kept-For")) return;
  await kept.delete(path);
  await kept.put(path, new Response(html, { headers: { "Content-Type": "text/html; charset=utf-8", "Kept-At": new Date().toISOString(), "Content-Security-Policy": answer.headers.get("Content-Security-Policy") || "default-src 'self'" } }));
  const pages = (await kept.keys()).filter((request) => new URL(request.url).pathname !== WHO);
  for (const old of pages.slice(0, Math.max(pages.length - MOST, 0))) await kept.delete(old);
};

const keptPage = async (path) => {
  const kept = await caches.open(KEPT);
  const found = await kept.match(path);
  if (!found) return keptList(kept);
  const words = `<p class="caution kept-words" role="status"><strong>No network.</strong> This is the page as this device saw it on ${escaped(moment(found.headers.get("Kept-At")))}; much may have changed since. Taps on the list of the day are kept and sent later; all else waits for the network. <a class="button" href="${escaped(path)}">Try again</a></p>`;
  const html = (await found.text()).replace("<!--kept-->", () => words).replace("<body ", '<body data-kept="" ');
  return new Response(html, { headers: found.headers });
};

const keptList = async (kept) => {
  const rows = [];
  for (const request of (await kept.keys()).reverse()) {
    const path = new URL(request.url).pathname;
    if (path === WHO) continue;
    const found = await kept.match(request);
    const title = ((await found.text()).match(/<title>([^<]*)<\/title>/) || ["", path])[1].replace(" · Hidewright", "");
    rows.push(`<li><a href="${escaped(path)}"><span><strong>${title}</strong><br><span class="hint">as seen on ${escaped(moment(found.headers.get("Kept-At")))}</span></span></a></li>`);
  }
  const list = rows.length ? `<ul class="rows">${rows.join("")}</ul>` : "<p>Nothing is kept on this device yet.</p>";
  const html = `<!doctype html><html lang="en-GB"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No network · Hidewright</title><link rel="stylesheet" href="/static/app.css"><link rel="stylesheet" href="/static/dark.css" media="screen and (prefers-color-scheme: dark)"></head><body data-kept=""><main id="main"><section class="panel"><h1>No network</h1><p>The shop’s server is out of reach, and this page is not kept on this device. Nothing that you saved is lost.</p><p><a class="button primary" href="">Try again</a></p><h2>Pages kept on this device</h2>${list}</section></main></body></html>`;
  return new Response(html, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'self'" } });
};

const page = async (event) => {
  const { pathname, search } = new URL(event.request.url);
  let answer;
  try {
    answer = await fetch(event.request);
  } catch {
    return keptPage(pathname);
  }
  const known = await heard(answer);
  if (known && answer.ok && !search && KEPT_PAGES.some((each) => each.test(pathname))) event.waitUntil(keep(pathname, answer.clone()));
  return answer;
};

const file = async (request) => {
  const shell = await caches.open(SHELL);
  try {
    const answer = await fetch(request);
    if (answer.ok) await shell.put(request, answer.clone());
    return answer;
  } catch (error) {
    const found = await shell.match(request, { ignoreSearch: true });
    if (found) return found;
    throw error;
  }
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event));
  else if (url.pathname.startsWith("/static/")) event.respondWith(file(request));
});
