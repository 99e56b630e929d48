// Keeps the feeds of the shows on stage. The network first; the kept copy when it fails or stalls.
const EDITION = new URL(location.href).searchParams.get('edition') || 'none';
const KEPT = 'feeds-' + EDITION, STALL_MS = 2500, AT_ONCE = 8;
const AWAY = '/kept/away', UNSENT = '/kept/unsent';
const SHELL = ['/find', '/kept', AWAY, UNSENT, ...['site.css', 'site.js', 'kept.js', 'text.woff2', 'app.webmanifest', 'icon.svg'].map(name => `/static/${EDITION}/${name}`)];
// Forms are not among them: nobody should fill in one that cannot be sent.
const isKept = path => /^\/(find(\/hits)?|kept|(elements|[lL])\/[^/]+)$/.test(path);

// Where a page is kept: a feed under its tag in capitals, however the tag is written, on a label too.
function placeOf(path) {
  const tag = /^\/(?:elements|[lL])\/([^/]+)$/.exec(path)?.[1];
  try {
    return tag ? '/elements/' + encodeURIComponent(decodeURIComponent(tag).trim().toUpperCase()) : path;
  } catch {
    return path;
  }
}

async function keepAll() {
  const cache = await caches.open(KEPT);
  await cache.addAll(SHELL);
  const answer = await fetch('/kept/list');
  if (!answer.ok) return;
  const addresses = await answer.json();
  for (let i = 0; i < addresses.length; i += AT_ONCE) {
    await Promise.all(addresses.slice(i, i + AT_ONCE).map(address => keep(cache, address).catch(() => {})));
  }
}
async function keep(cache, address) {
  const answer = await fetch(address);
  if (answer.ok) await cache.put(placeOf(address), answer);
}
// What stands before the service answers so where it reaches nobody: no more an answer than a dead line.
async function reached(request) {
  const answer = await fetch(request);
  if (answer.status === 502 || answer.status === 504) throw new Error('unreached');
  return answer;
}
addEventListener('install', event => event.waitUntil(keepAll().then(() => skipWaiting())));
addEventListener('activate', event => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
  await clients.claim();
})()));
addEventListener('message', event => {
  if (event.data === 'keep') event.waitUntil(keepAll());
  if (event.data === 'forget') event.waitUntil(caches.delete(KEPT));
});
addEventListener('fetch', event => {
  const url = new URL(event.request.url);
  if (url.origin !== location.origin) return;
  if (event.request.method === 'POST' && event.request.mode === 'navigate') event.respondWith(sentOrShown(event.request, url));
  if (event.request.method !== 'GET') return;
  if (url.pathname.startsWith('/static/')) {
    event.respondWith(caches.match(event.request).then(kept => kept || fetch(event.request)));
  } else if (isKept(url.pathname)) {
    event.respondWith(freshOrKept(event.request, url));
  } else if (event.request.mode === 'navigate') {
    event.respondWith(reached(event.request).catch(away));
  }
});
async function freshOrKept(request, url) {
  const cache = await caches.open(KEPT);
  const fresh = reached(request).then(answer => {
    if (answer.ok && !url.search) cache.put(placeOf(url.pathname), answer.clone());
    return answer;
  });
  const stalled = new Promise((_, refuse) => setTimeout(refuse, STALL_MS, new Error('stalled')));
  try {
    return await Promise.race([fresh, stalled]);
  } catch {
    fresh.catch(() => {});
    const kept = await cache.match(placeOf(url.pathname));
    if (kept && !url.search) return marked(kept);
    // Nothing from here: the page that asks looks in what is kept. No error, for none would mend it.
    if (url.pathname === '/find/hits') return new Response(null, {status: 204});
    const list = /^\/(find|kept)$/.test(url.pathname) && await cache.match('/kept');
    return list ? marked(list) : away();
  }
}
const plain = text => text.replace(/[&<>"]/g, letter => `&#${letter.charCodeAt(0)};`);
// A file is not kept: the page says so, and leads back to the form that it was chosen in.
function withFile(text, request, url) {
  const from = request.referrer.startsWith(location.origin + '/') ? new URL(request.referrer) : url;
  return text.replace('<div data-typed>', '<div hidden>').replace('<div data-chosen hidden>', '<div>')
    .replace('href="#form"', () => `href="${plain(from.pathname + from.search)}"`);
}
// A form that finds nobody comes back with what was typed, to be sent again by hand. It is never sent later by
// itself: a change that is made hours after it was meant is a lie.
async function sentOrShown(request, url) {
  const isText = /urlencoded/.test(request.headers.get('content-type')), copy = isText ? request.clone() : null;
  try {
    return await reached(request);
  } catch {
    const page = await (await caches.open(KEPT)).match(UNSENT);
    if (!page) return Response.error();
    const text = (await page.text()).replace('<body', '<body data-away');
    if (!copy) return new Response(withFile(text, request, url), {status: 503, headers: page.headers});
    const typed = [...new URLSearchParams(await copy.text())];
    const fields = typed.map(([name, value]) => `<input type="hidden" name="${plain(name)}" value="${plain(value)}">`).join('');
    const form = `<form data-again method="post" action="${plain(url.pathname + url.search)}">${fields}`;
    return new Response(text.replace('<form data-again>', () => form), {status: 503, headers: page.headers});
  }
}
// What is not kept: a page that says so, and leads to what is.
async function away() {
  const page = await (await caches.open(KEPT)).match(AWAY);
  return page ? marked(page, 'away', 503) : Response.error();
}
// A kept copy says that it is one, whatever the browser believes of its network.
async function marked(kept, what = 'kept', status = 200) {
  const text = await kept.text();
  return new Response(text.replace('<body', '<body data-' + what), {status, headers: kept.headers});
}
