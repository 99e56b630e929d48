// All the script there is on most pages. Everything works without it.
(() => {
  const box = document.querySelector('[data-into]');
  if (box) {
    const into = document.getElementById(box.dataset.into);
    let wait, asked;
    box.addEventListener('input', () => {
      clearTimeout(wait);
      wait = setTimeout(async () => {
        asked?.abort();
        asked = new AbortController();
        try {
          const answer = await fetch(box.dataset.from + '?q=' + encodeURIComponent(box.value), {signal: asked.signal});
          if (!answer.ok) throw new Error(answer.status);
          if (answer.status === 204) return await fromKept(box.value, into);
          into.innerHTML = await answer.text();
          // So that the way back leads to what was found.
          const at = new URL(location);
          if (box.value) at.searchParams.set('q', box.value); else at.searchParams.delete('q');
          history.replaceState(null, '', at);
          say();
        } catch (error) {
          if (error.name !== 'AbortError') say('unanswered');
        }
      }, 200);
    });
    if (location.hash === '#q') box.focus();
  }
  // Where nothing answers: what of the kept list has all the words.
  async function fromKept(typed, into) {
    say('unanswered');
    const list = new DOMParser().parseFromString(await (await caches.match('/kept')).text(), 'text/html');
    const plain = text => text.toLowerCase().replace(/(^|\D)0+(?=\d)/g, '$1');
    const words = plain(typed).split(/\s+/).filter(Boolean);
    const rows = [...list.querySelectorAll('.kept')].filter(row => words.every(word => plain(row.textContent).includes(word)));
    const none = list.querySelector('[data-none]');
    if (none) none.hidden = false;
    into.replaceChildren(...rows.length ? rows : none ? [none] : []);
  }
  // Where a key moves to: from the box through what was found and back; nowhere where it is not meant.
  function step(key) {
    const on = document.activeElement, into = box && document.getElementById(box.dataset.into);
    if (!box || on !== box && !into.contains(on)) return false;
    if (key === 'Escape') {
      if (on !== box) box.focus();
      else if (box.value) { box.value = ''; box.dispatchEvent(new Event('input')); } else box.blur();
      return true;
    }
    const by = {ArrowDown: 1, ArrowUp: -1}[key], links = [...into.querySelectorAll('a')];
    if (!by || on !== box && on.tagName !== 'A') return false;
    const to = links[links.indexOf(on) + by] || (by < 0 ? box : on);
    to.focus();
    return true;
  }
  addEventListener('keydown', event => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === '/' && 'keys' in document.body.dataset && !/^(INPUT|TEXTAREA|SELECT)$/.test(document.activeElement.tagName)) {
      event.preventDefault();
      if (box) { box.focus(); box.select(); } else location.assign('/find#q');
    } else if (step(event.key)) event.preventDefault();
  });
  // Parts that take longer than the page: a link stands there until they have come.
  const isAway = 'away' in document.body.dataset, isKept = isAway || 'kept' in document.body.dataset;
  const filled = (isKept ? [] : [...document.querySelectorAll('[data-fill]')]).map(part => fetch(part.dataset.fill)
    .then(async answer => { if (answer.ok) part.innerHTML = await answer.text(); }).catch(() => {}));
  const net = document.getElementById('net');
  // A copy that the keeper hands out is marked by it; else only what is known here can be told.
  function say(what) {
    // The page that stands in for one that is not kept says so itself.
    const line = what === 'unsent' ? what : isAway ? '' : !navigator.onLine ? 'offline' : what || (isKept ? 'stalled' : '');
    net.classList.toggle('on', Boolean(line));
    net.textContent = line ? net.dataset[line] : '';
  }
  // A kept copy sends nothing: what would is off, and the line above says why.
  if (isKept) {
    for (const button of document.querySelectorAll('form[method=post]:not([data-again]) button')) {
      button.disabled = true;
      button.setAttribute('aria-describedby', 'net');
    }
    for (const link of document.querySelectorAll('a[data-live]')) {
      link.removeAttribute('href');
      link.setAttribute('role', 'link');
      link.setAttribute('aria-disabled', 'true');
      link.setAttribute('aria-describedby', 'net');
    }
  }
  // What cannot be sent stays as it was typed.
  addEventListener('submit', event => {
    if (event.target.method === 'post' && !navigator.onLine) {
      event.preventDefault();
      say('unsent');
    }
  });
  addEventListener('online', () => say());
  addEventListener('offline', () => say());
  say();
  const keeper = document.querySelector('meta[name=keeper]');
  // What is kept is fetched when this page has all that it wants.
  if (keeper && 'serviceWorker' in navigator) {
    addEventListener('load', () => Promise.all(filled).then(() => navigator.serviceWorker.register(keeper.content)).catch(() => {}));
  }
  for (const form of document.querySelectorAll('form[data-forget]')) {
    form.addEventListener('submit', () => navigator.serviceWorker?.controller?.postMessage('forget'));
  }
})();
