// Keeps the feeds of the shows on stage. The network first; the kept copy when it fails or stalls.
const EDITION = new URL(location.href).searchParams.get('edition') || 'none';
const KEPT = 'feeds-' + EDITION, STALL_MS = 2500, AT_ONCE = 8;
const SHELL = ['/find', '/kept', ...['site.css', 'site.js', 'kept.js', 'text.woff2', 'app.webmanifest', 'icon.svg'].map(name => `/static/${EDITION}/${name}`)];
const isKept = path => /^\/(find|kept|elements)(\/|$)/.test(path);

async function keepAll() {
  const cache = await caches.open(KEPT);
  await cache.addAll(SHELL);
  const answer = await fetch('/kept/list');
  if (!answer.ok) return;
  const addresses = await answer.json();
  for (let i = 0; i < addresses.length; i += AT_ONCE) {
    await Promise.all(addresses.slice(i, i + AT_ONCE).map(address => cache.add(address).catch(() => {})));
  }
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
  // What is changed is never kept for later: a change that is made hours after it was meant is a lie.
  if (event.request.method !== 'GET' || url.origin !== location.origin) return;
  if (url.pathname.startsWith('/static/')) {
    event.respondWith(caches.match(event.request).then(kept => kept || fetch(event.request)));
  } else if (isKept(url.pathname)) {
    event.respondWith(freshOrKept(event.request, url));
  }
});
async function freshOrKept(request, url) {
  const cache = await caches.open(KEPT);
  const fresh = fetch(request).then(answer => {
    if (answer.ok && !url.search) cache.put(url.pathname, answer.clone());
    return answer;
  });
  const stalled = new Promise((_, refuse) => setTimeout(refuse, STALL_MS, new Error('stalled')));
  try {
    return await Promise.race([fresh, stalled]);
  } catch {
    fresh.catch(() => {});
    const kept = await cache.match(url.pathname);
    if (kept && !url.search) return marked(kept);
    const list = url.pathname === '/find/hits' ? undefined : await cache.match('/kept');
    return list ? marked(list) : new Response('', {status: 504});
  }
}
// A kept copy says that it is one, whatever the browser believes of its network.
async function marked(kept) {
  const text = await kept.text();
  return new Response(text.replace('<div class="net" id="net"', '<div class="net" data-kept id="net"'), {headers: kept.headers});
}
